"""motelake's own way over a lake, from raw/ to a published snapshot, and one question asked of it."""

import sys
from datetime import UTC, datetime

from floor_job import counts_of, statements
from parts import Parts

parts = Parts()
with parts.part("start"):
    import motelake
    from motelake.config import read_config
    from motelake.lake.store import Lake
    from motelake.library import read_library
    from motelake.steps import campaign
    from motelake.steps.check import check
    from motelake.steps.decide import decide
    from motelake.steps.load import load
    from motelake.steps.publish import publish_warehouse
    from motelake.steps.read import ask
    from motelake.steps.refresh_page import refresh_page
    from motelake.steps.stage import stage
    from motelake.warehouse.store import open_warehouse


def say(sentence: str) -> None:
    """Says it where it is not in the way."""
    print(sentence, file=sys.stderr)


def main(url: str) -> None:
    """Does the work and tells what it cost."""
    lake, config = Lake.at(url), read_config(url)
    plan = campaign.read(lake)
    with parts.part("stage"):
        stage(lake, plan, config, say)
    with parts.part("check"):
        held = check(lake, plan, config, say).held
    for verdict in held:
        # The others do not know of a gate.
        decide(lake, verdict.object, "admit", say)
    with parts.part("load"):
        load(lake, plan, config, say)
    library, now = read_library(), datetime.now(UTC)
    with parts.part("publish"), open_warehouse(config) as engine:
        published = publish_warehouse(lake, engine, library, say, now=now)
    # No other job makes one.
    with parts.part("page"):
        refresh_page(lake, config, library, published.snapshot, say, is_asked=True, now=now)
    with parts.part("ask"):
        given = {"measure_a": "footsteps", "measure_b": "air_quality", "zone": "track-entrance"}
        ask(lake, "correlation.lagged", given)
    with motelake.open(url) as snapshot:
        counts = counts_of(snapshot)
        correlations = [r for _, r in snapshot.sql(statements("ask")[0]).fetchall()]
    parts.tell(counts | {"r": correlations})


if __name__ == "__main__":
    main(sys.argv[1])
