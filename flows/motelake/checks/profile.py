"""The figures of a raw object that its verdict is made of, counted by DuckDB in one pass over a batch."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from motelake.core.campaign import Campaign
from motelake.core.manifests import Manifest, StagedObject
from motelake.core.reasons import LineReason
from motelake.core.verdicts import home_gateways
from motelake.library import read_sql

if TYPE_CHECKING:
    import duckdb

COUNTS_FROM = 50
"""Shares of fewer lines or readings say little, and would hold an object by how its lines were split."""


@dataclass(frozen=True)
class MeasureProfile:
    """The readings of one measure in an object: how many, how many outside the span, from low to high."""

    measure: str
    readings: int
    outside: int
    low: float
    high: float

    @property
    def outside_share(self) -> float | None:
        """Share of readings outside the span; None where there are too few."""
        return self.outside / self.readings if self.readings >= COUNTS_FROM else None


@dataclass(frozen=True)
class ObjectProfile:
    """What staging counted of one object, and what its hearings show."""

    staged: StagedObject
    motes: int = 0
    bursts_heard: int = 0
    bursts_expected: int = 0
    measures: Sequence[MeasureProfile] = field(default_factory=tuple)

    @property
    def refused(self) -> int:
        """1 where nothing was taken from the object, else 0."""
        return int(self.staged.refused is not None)

    @property
    def truncated(self) -> int:
        """1 where the object broke off in the middle of its compressed data, else 0."""
        return min(1, self.staged.rejected.get(LineReason.TRUNCATED, 0))

    @property
    def reject_share(self) -> float | None:
        """Share of lines rejected for any reason; None where there are too few lines, as below."""
        return self._share(self.staged.lines.rejected)

    @property
    def unknown_mote_share(self) -> float | None:
        """Share of lines from motes that the register does not name."""
        return self._share(self.staged.rejected.get(LineReason.UNKNOWN_MOTE, 0))

    @property
    def outside_campaign_share(self) -> float | None:
        """Share of lines received outside the campaign's times."""
        return self._share(self.staged.rejected.get(LineReason.OUTSIDE_CAMPAIGN, 0))

    @property
    def worst_measure(self) -> MeasureProfile | None:
        """The measure with the largest share of readings outside its span, the first by name of several."""
        judged = [one for one in self.measures if one.outside_share is not None]
        return max(judged, key=lambda one: one.outside_share or 0.0, default=None)

    @property
    def outside_span_share(self) -> float | None:
        """That measure's share."""
        worst = self.worst_measure
        return worst.outside_share if worst else None

    @property
    def completeness(self) -> float | None:
        """Share of the bursts expected between the first and the last heard of each mote."""
        if self.bursts_expected < COUNTS_FROM:
            return None
        return self.bursts_heard / self.bursts_expected

    def _share(self, lines: int) -> float | None:
        return lines / self.staged.lines.read if self.staged.lines.read >= COUNTS_FROM else None


def profile_objects(
    engine: "duckdb.DuckDBPyConnection", manifest: Manifest, staged_files: Sequence[Path], campaign: Campaign
) -> list[ObjectProfile]:
    """The profile of every object of a manifest, in its order, from local copies of its staged files."""
    rows = _profile_rows(engine, manifest, staged_files, campaign) if staged_files else {}
    return [_profile(staged, rows.get(staged.name)) for staged in manifest.objects]


def _profile_rows(
    engine: "duckdb.DuckDBPyConnection", manifest: Manifest, staged_files: Sequence[Path], campaign: Campaign
) -> dict[str, dict[str, Any]]:
    measures = campaign.register.measures
    lows = {f"reading_{one.measure}": one.span_low for one in measures if one.span_low is not None}
    highs = {f"reading_{one.measure}": one.span_high for one in measures if one.span_high is not None}
    periods = {one.mote: one.burst_period_s for one in campaign.register.motes if one.burst_period_s}
    _set_map(engine, "span_low", "double", lows)
    _set_map(engine, "span_high", "double", highs)
    _set_map(engine, "period_s", "double", periods)
    _set_map(engine, "home", "varchar", home_gateways(campaign.register))
    engine.execute("set variable usual_period_s = $period_s::double", {"period_s": campaign.burst_period_s})
    names = [staged.name for staged in manifest.objects]
    answer = engine.execute(
        read_sql("check/profile"), {"files": [str(file) for file in staged_files], "objects": names}
    )
    columns = [column[0] for column in answer.description or ()]
    rows = (dict(zip(columns, row, strict=True)) for row in answer.fetchall())
    return {row["object"]: row for row in rows}


def _set_map(engine: "duckdb.DuckDBPyConnection", name: str, kind: str, values: Mapping[str, object]) -> None:
    engine.execute(
        f"set variable {name} = map($names::varchar[], $members::{kind}[])",
        {"names": list(values), "members": list(values.values())},
    )


def _profile(staged: StagedObject, row: Mapping[str, Any] | None) -> ObjectProfile:
    if row is None:
        return ObjectProfile(staged)
    names = sorted(column.removeprefix("n:") for column in row if column.startswith("n:"))
    measures = tuple(
        MeasureProfile(
            name, row[f"n:{name}"], int(row[f"outside:{name}"] or 0), row[f"low:{name}"], row[f"high:{name}"]
        )
        for name in names
        if row[f"n:{name}"]
    )
    motes, heard, expected = (int(row[name] or 0) for name in ("motes", "heard", "expected"))
    return ObjectProfile(staged, motes, heard, expected, measures)
