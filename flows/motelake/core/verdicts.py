"""What the gate says of raw objects; kept in the lake, one file a manifest."""

import json
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any, Literal

from motelake.core.campaign import Campaign
from motelake.core.hashes import content_hash
from motelake.core.register import Register
from motelake.errors import InputError

JUDGE = 1
"""Version of the gate: with another one, every object is judged again."""

STATE_NAME = "validation/state.json"


@dataclass(frozen=True)
class Finding:
    """What one expectation found: the observed figure (None: too little to judge by), and the limit."""

    name: str
    observed: float | None
    limit: float
    success: bool


@dataclass(frozen=True)
class Verdict:
    """The verdict on one raw object, with a sentence for each reason to hold it and each warning."""

    object: str
    sha256: str
    state: Literal["pass", "hold"]
    reasons: Sequence[str]
    warnings: Sequence[str]
    expectations: Sequence[Finding]


@dataclass(frozen=True)
class BatchVerdict:
    """The verdicts on all objects of one manifest (its id), and the hash of what they were judged with."""

    manifest: str
    judged_with: str
    objects: Sequence[Verdict]

    def to_json(self) -> bytes:
        """The bytes of the verdict's file, one stable text for one content."""
        return (json.dumps(asdict(self), indent=1, sort_keys=True) + "\n").encode()

    @classmethod
    def from_json(cls, data: bytes, name: str) -> "BatchVerdict":
        """The verdicts in a file; InputError naming the file where it is damaged."""
        try:
            record = json.loads(data)
            return cls(**record | {"objects": tuple(_verdict(one) for one in record["objects"])})
        except (ValueError, KeyError, TypeError) as error:
            raise InputError(f"{name} is no verdict ({error!r}). Remove it; it is judged again.") from error


def verdict_name(manifest: str) -> str:
    """Where the verdicts on the objects of a manifest (its id) lie in the lake."""
    return f"validation/{manifest}.json"


def judging_hash(campaign: Campaign) -> str:
    """A hash of all that verdicts depend on besides what was staged: limits, spans, periods and networks."""
    register = campaign.register
    return content_hash(
        {
            "judge": JUDGE,
            "reject_share": campaign.limits.reject_share,
            "unknown_mote_share": campaign.limits.unknown_mote_share,
            "outside_span_share": campaign.limits.outside_span_share,
            "spans": {one.measure: [one.span_low, one.span_high, one.unit] for one in register.measures},
            "home_gateways": home_gateways(register),
            "burst_period_s": campaign.burst_period_s,
            "burst_periods_s": {one.mote: one.burst_period_s for one in register.motes if one.burst_period_s},
        }
    )[:32]


def home_gateways(register: Register) -> dict[str, str]:
    """For each mote the gateway of its network; a mote is left out where there is none, or more than one."""
    of_network: dict[str, list[str]] = defaultdict(list)
    for gateway in register.gateways:
        of_network[gateway.network].append(gateway.gateway)
    return {
        mote.mote: of_network[mote.network][0]
        for mote in register.motes
        if mote.network is not None and len(of_network[mote.network]) == 1
    }


def _verdict(record: Mapping[str, Any]) -> Verdict:
    findings = tuple(Finding(**one) for one in record["expectations"])
    texts = {key: tuple(record[key]) for key in ("reasons", "warnings")}
    return Verdict(**dict(record) | texts | {"expectations": findings})
