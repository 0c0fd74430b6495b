"""How far a change reaches in time, and in which pieces that is worked through."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

import duckdb

from motelake.core.campaign import Campaign
from motelake.core.register import Measure

DAY = timedelta(days=1)
TEN_MINUTES = timedelta(minutes=10)


@dataclass(frozen=True)
class Span:
    """From from_at until before to_at, UTC."""

    from_at: datetime
    to_at: datetime

    def values(self) -> dict[str, Any]:
        """The bounds as parameters of a statement."""
        return {"from_at": self.from_at, "to_at": self.to_at}

    def with_margin(self, margin: timedelta, step: timedelta = timedelta(microseconds=1)) -> "Span":
        """The span widened by margin and then to whole steps, its last instant included."""
        return Span(_floor(self.from_at - margin, step), _floor(self.to_at + margin, step) + step)

    def days(self) -> "Iterator[Span]":
        """The span, cut at UTC midnights."""
        from_at = self.from_at
        while from_at < self.to_at:
            midnight = datetime(from_at.year, from_at.month, from_at.day, tzinfo=UTC) + DAY
            yield Span(from_at, min(midnight, self.to_at))
            from_at = midnight


def read_span(engine: duckdb.DuckDBPyConnection, table: str, measure: Measure | None = None) -> Span | None:
    """The span from the first from_at to the last to_at of a table of reaches, None where it is empty.

    Where a measure is given, of the rows of that measure.
    """
    query = f"select min(from_at), max(to_at) from {table}"
    if measure is None:
        row = engine.execute(query).fetchone()
    else:
        row = engine.execute(f"{query} where measure = $measure", {"measure": measure.measure}).fetchone()
    if row is None or row[0] is None:
        return None
    return Span(row[0].astimezone(UTC), row[1].astimezone(UTC))


def longest_period(campaign: Campaign) -> timedelta:
    """The longest burst period of any mote."""
    periods = [mote.burst_period_s or campaign.burst_period_s for mote in campaign.register.motes]
    return timedelta(seconds=max(periods, default=campaign.burst_period_s))


def near_margin(campaign: Campaign) -> timedelta:
    """How far a burst bears upon spikes and steps: two neighbours, one and a half periods off at most."""
    return 4 * longest_period(campaign)


def flag_margin(campaign: Campaign, measure: Measure) -> timedelta:
    """How far a burst bears upon the flags around it.

    A flat run is flagged once it is longer than flat_after_min, and no gap within it is longer than that or
    than ten periods.
    """
    near = near_margin(campaign)
    if measure.flat_after_min is None:
        return near
    flat_after = timedelta(minutes=measure.flat_after_min)
    return near + flat_after + max(flat_after, 10 * longest_period(campaign))


def minute_margin(campaign: Campaign, measure: Measure) -> timedelta:
    """How far a reading bears upon the minutes around it.

    A count stands for the period before its burst, what a running counter grew by for the time since the
    burst before, up to a day.
    """
    if measure.kind == "total":
        return DAY
    return longest_period(campaign) if measure.kind == "count" else timedelta(0)


def _floor(moment: datetime, step: timedelta) -> datetime:
    return moment - (moment - datetime(2000, 1, 1, tzinfo=UTC)) % step
