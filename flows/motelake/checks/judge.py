"""From profiles to verdicts."""

from collections.abc import Sequence

from motelake.checks.expectations import expectations, find
from motelake.checks.profile import ObjectProfile
from motelake.checks.sentences import reasons_to_hold, warnings
from motelake.core.campaign import Campaign
from motelake.core.verdicts import Verdict


def judge(profiles: Sequence[ObjectProfile], campaign: Campaign) -> list[Verdict]:
    """The verdict on each object, in the order given.

    Each depends on its own profile and the campaign only, whichever objects are judged with it.
    """
    gate = expectations(campaign.limits)
    verdicts = []
    for profile, findings in zip(profiles, find(profiles, gate), strict=True):
        reasons = reasons_to_hold(profile, findings, campaign)
        verdicts.append(
            Verdict(
                object=profile.staged.name,
                sha256=profile.staged.sha256,
                state="hold" if reasons else "pass",
                reasons=tuple(reasons),
                warnings=tuple(warnings(profile, findings)),
                expectations=findings,
            )
        )
    return verdicts
