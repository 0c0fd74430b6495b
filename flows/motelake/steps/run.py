"""A whole run: what is new is staged, checked, loaded and published, one step after the other."""

from dataclasses import dataclass
from typing import Any

from motelake.config import Config
from motelake.core.campaign import Campaign
from motelake.core.sentences import Say
from motelake.lake.store import Lake
from motelake.steps.check import CheckReport, check
from motelake.steps.load import LoadReport, load
from motelake.steps.publish import PublishReport, publish
from motelake.steps.report import Report
from motelake.steps.stage import StageReport, stage


@dataclass(frozen=True)
class RunReport(Report):
    """What each step of a run did."""

    stage: StageReport
    check: CheckReport
    load: LoadReport
    publish: PublishReport

    @property
    def needs_attention(self) -> bool:
        """True where a person is needed: an object was refused or is held, or a question has no answer."""
        return any(step.needs_attention for step in (self.stage, self.load, self.publish))

    def to_dict(self) -> dict[str, Any]:
        """The report for programs."""
        steps = {
            "stage": self.stage.to_dict(),
            "check": self.check.to_dict(),
            "load": self.load.to_dict(),
            "publish": self.publish.to_dict(),
        }
        return steps | {"needs_attention": self.needs_attention}


def run(lake: Lake, campaign: Campaign, config: Config, say: Say) -> RunReport:
    """Does all four steps without an orchestrator.

    What a step raises ends the run; the next run goes on from there.
    """
    return RunReport(
        stage(lake, campaign, config, say),
        check(lake, campaign, config, say),
        load(lake, campaign, config, say),
        publish(lake, config, say),
    )
