"""How far a change reaches in time."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

import duckdb

from motelake.core.campaign import Campaign

# Bounds the memory of what looks at all motes at once.
MINUTES_AT_ONCE = 10_000_000
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

    def with_margin(self, margin: timedelta) -> "Span":
        """The span widened by margin on both sides, its last instant included."""
        return Span(self.from_at - margin, self.to_at + margin + timedelta(microseconds=1))

    def pieces(self, campaign: Campaign) -> Iterator["Span"]:
        """The span in pieces of whole UTC hours, as many as hold the minutes that go at once, at least one.

        They follow each other from the beginning of its first hour on, until its last instant is within.
        """
        register = campaign.register
        minutes_an_hour = 60 * max(1, len(register.motes) * len(register.measures))
        length = timedelta(hours=max(1, MINUTES_AT_ONCE // minutes_an_hour))
        from_at = self.from_at.replace(minute=0, second=0, microsecond=0)
        while from_at <= self.to_at:
            yield Span(from_at, from_at + length)
            from_at += length


def read_span(engine: duckdb.DuckDBPyConnection, table: str) -> Span | None:
    """The span from the first from_at to the last to_at of a table of reaches, None where it is empty."""
    row = engine.execute(f"select min(from_at), max(to_at) from {table}").fetchone()
    if row is None or row[0] is None:
        return None
    return Span(row[0].astimezone(UTC), row[1].astimezone(UTC))


def longest_period(campaign: Campaign) -> timedelta:
    """The longest burst period of any mote."""
    return timedelta(seconds=max(campaign.periods_s().values(), default=campaign.burst_period_s))


def near_margin(campaign: Campaign) -> timedelta:
    """How far a burst bears upon its surroundings where nothing is flat.

    A spike looks at neighbours up to four and a half periods off, a step at those of the burst before it as
    well; a count covers the period before its burst.
    """
    return 8 * longest_period(campaign)


def far_margin(campaign: Campaign) -> timedelta:
    """How far a burst bears upon the flags around it.

    A flat run is flagged once it is longer than flat_after_min, and no gap within it is longer than that or
    than ten periods.
    """
    flat_after = timedelta(minutes=max(_flat_minutes(campaign), default=0))
    return near_margin(campaign) + flat_after + max(flat_after, 10 * longest_period(campaign))


def stretch_us(campaign: Campaign, bursts_back: int) -> int | None:
    """The pieces into which time is cut to find motes that may be flat, in microseconds; None where none can.

    Half as long as the shortest flat time, and as half of the time for which a mote that goes on is looked
    at again.
    """
    flat_after = timedelta(minutes=min(_flat_minutes(campaign), default=0))
    if not flat_after:
        return None
    looked_at = bursts_back * timedelta(seconds=campaign.burst_period_s) / 2
    return round(min(flat_after, looked_at) / 2 / timedelta(microseconds=1))


def _flat_minutes(campaign: Campaign) -> list[float]:
    return [
        measure.flat_after_min for measure in campaign.register.measures if measure.flat_after_min is not None
    ]
