"""A scheduled run over a lake, step by step in a process of its own, without the orchestrator."""

import sys

from parts import Parts

parts = Parts()
with parts.part("start"):
    from motelake.config import read_config
    from motelake.lake.store import Lake
    from motelake.steps import campaign
    from motelake.steps.check import check
    from motelake.steps.load import load
    from motelake.steps.publish import publish
    from motelake.steps.stage import stage

    lake, config = Lake.open(sys.argv[1]), read_config(sys.argv[1])
    plan = campaign.read(lake)


def say(sentence: str) -> None:
    """Says it where it is not in the way."""
    print(sentence, file=sys.stderr)


with parts.part("stage"):
    stage(lake, plan, config, say)
with parts.part("check"):
    check(lake, plan, config, say)
with parts.part("load"):
    load(lake, plan, config, say)
with parts.part("publish"):
    publish(lake, config, say)
parts.tell({})
