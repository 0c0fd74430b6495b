"""The findings of the gate in sentences that tell a person what is wrong and what to do."""

from collections.abc import Sequence

from motelake.checks.profile import ObjectProfile
from motelake.core.campaign import Campaign
from motelake.core.reasons import LineReason
from motelake.core.verdicts import Finding


def reasons_to_hold(profile: ObjectProfile, findings: Sequence[Finding], campaign: Campaign) -> list[str]:
    """One sentence for each cause that holds the object."""
    unmet = {one.name: one for one in findings if not one.success}
    lines = f"{profile.staged.lines.read:,} lines"
    sentences = []
    if "refused" in unmet:
        sentences.append(str(profile.staged.refused))
    if "truncated" in unmet:
        sentences.append(
            f"it breaks off in its compressed data after {profile.staged.lines.read - 1:,} lines: deliver it "
            "whole under another name and discard this one, or admit what could be read"
        )
    if one := unmet.get("unknown_mote_share"):
        sentences.append(
            f"{_share(one)} of {lines} are from motes that the register does not name "
            f"(limit {_limit(one)}): add them to register/motes.csv and they come in by themselves"
        )
    if one := unmet.get("outside_campaign_share"):
        sentences.append(
            f"{_share(one)} of {lines} were received outside the campaign (limit {_limit(one)}): "
            "check starts_at and ends_at in campaign.toml and the collector's clock"
        )
    if (one := unmet.get("reject_share")) and not _is_explained(profile, unmet, one.limit):
        sentences.append(
            f"{_share(one)} of {lines} were rejected (limit {_limit(one)}), {_commonest(profile)}"
        )
    if one := unmet.get("outside_span_share"):
        sentences.append(_about_span(profile, one, campaign))
    return sentences


def warnings(profile: ObjectProfile, findings: Sequence[Finding]) -> list[str]:
    """One sentence for each thing that a person should know, though it holds nothing."""
    lines = profile.staged.lines
    sentences = []
    if lines.read == 0 and profile.staged.refused is None:
        sentences.append("it holds no lines")
    elif lines.read > 0 and lines.parsed == 0:
        sentences.append(f"nothing came of its {lines.read:,} lines, {_commonest(profile)}")
    for one in findings:
        if one.name == "completeness" and not one.success:
            sentences.append(
                f"{_share(one)} of the {profile.bursts_expected:,} bursts that its {profile.motes:,} motes "
                "sent between their first and last are in it"
            )
    return sentences


def _is_explained(profile: ObjectProfile, unmet: dict[str, Finding], limit: float) -> bool:
    """True where the lines not told of already would not have held the object."""
    causes = {
        "unknown_mote_share": LineReason.UNKNOWN_MOTE,
        "outside_campaign_share": LineReason.OUTSIDE_CAMPAIGN,
    }
    explained = [profile.staged.rejected.get(reason, 0) for name, reason in causes.items() if name in unmet]
    others = profile.staged.lines.rejected - sum(explained)
    return bool(explained) and others <= limit * profile.staged.lines.read


def _commonest(profile: ObjectProfile) -> str:
    rejected = profile.staged.rejected
    reason = max(sorted(rejected), key=lambda one: rejected[one])
    return f"{'all' if len(rejected) == 1 else 'mostly'} {reason}"


def _about_span(profile: ObjectProfile, finding: Finding, campaign: Campaign) -> str:
    worst = profile.worst_measure
    if worst is None:
        raise ValueError(f"{profile.staged.name}: a span was judged that no measure has")
    measure = next(one for one in campaign.register.measures if one.measure == worst.measure)
    low = "" if measure.span_low is None else f"{measure.span_low:g}"
    high = "" if measure.span_high is None else f"{measure.span_high:g}"
    return (
        f"{_share(finding)} of {worst.readings:,} readings of {worst.measure} are outside {low}..{high} "
        f"{measure.unit} (limit {_limit(finding)}), from {worst.low:g} to {worst.high:g}: "
        "check the sensors' unit and the span in register/measures.csv"
    )


def _share(finding: Finding) -> str:
    return _percent(finding.observed or 0.0, finding.limit)


def _limit(finding: Finding) -> str:
    return f"{100 * finding.limit:g} %"


def _percent(share: float, limit: float) -> str:
    """Whole percent, with digits added until it no longer reads like the limit."""
    for digits in range(6):
        text = f"{100 * share:.{digits}f}"
        if float(text) != 100 * limit:
            break
    return f"{text} %"
