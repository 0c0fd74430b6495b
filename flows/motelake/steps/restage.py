"""Forgetting all that was staged, so that it is made again from raw/."""

from motelake.config import Config
from motelake.core.campaign import Campaign
from motelake.core.sentences import Say, counted
from motelake.lake.chain import HINT, is_link
from motelake.lake.store import Lake
from motelake.steps.check import check
from motelake.steps.each import Each, in_turn
from motelake.steps.stage import stage

# Verdicts and rejects belong to manifests; decisions are the operator's and stay.
_FOLDERS = ("validation", "rejects", "staged")


def forget_staged(lake: Lake, say: Say) -> None:
    """Takes away manifests, staged Parquet, rejects and verdicts; raw/ and decisions/ stay.

    The chain goes from its end, so that stopped midway a whole chain remains, only shorter.
    """
    names = [info.name for info in lake.list("manifests")]
    links = sorted(filter(is_link, names))
    lake.remove(HINT)
    for name in [*sorted(set(names) - {*links, HINT}), *reversed(links)]:
        lake.remove(name)
    for folder in _FOLDERS:
        for info in lake.list(folder):
            lake.remove(info.name)
    say(f"{counted(len(links), 'batch', 'batches')} forgotten; raw/ is staged again from its first object.")


def stage_again(lake: Lake, campaign: Campaign, config: Config, say: Say, *, each: Each = in_turn) -> None:
    """Forgets what was staged, then stages and checks all of raw/."""
    forget_staged(lake, say)
    stage(lake, campaign, config, say, each=each)
    check(lake, campaign, config, say, each=each)
