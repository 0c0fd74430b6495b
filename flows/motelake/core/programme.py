"""The programme: events with a place, a start and an end, from programme.csv and iCalendar files."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from motelake.core.cells import read_name, read_names
from motelake.core.instants import parse_instant
from motelake.core.problems import Problems
from motelake.core.tables import Column, Table, check_known, check_unique, read_table

PROGRAMME = "programme/programme.csv"

_COLUMNS = (
    Column("event", read_name, is_needed=True),
    Column("title", str),
    Column("kind", str),
    Column("zone", read_names),
    Column("starts_at", parse_instant, is_needed=True),
    Column("ends_at", parse_instant, is_needed=True),
)


@dataclass(frozen=True, slots=True)
class ProgrammeEvent:
    """Something on the agenda from starts_at until before ends_at (UTC); `zone` joins several by +."""

    event: str
    title: str | None
    kind: str | None
    zone: str | None
    starts_at: datetime
    ends_at: datetime

    @property
    def zones(self) -> tuple[str, ...]:
        """The zones it takes place in; none means the whole venue."""
        return tuple(self.zone.split("+")) if self.zone else ()


def read_programme_table(files: Mapping[str, bytes], problems: Problems) -> Table:
    """programme.csv cell by cell; an empty table where there is none."""
    if PROGRAMME not in files:
        return Table(PROGRAMME)
    return read_table(PROGRAMME, files[PROGRAMME], _COLUMNS, problems)


def check_programme(table: Table, zones: Table, problems: Problems) -> None:
    """Note events that are there twice, end before they begin, or take place in an unknown zone."""
    check_unique(table, "event", problems)
    check_known(table, "zone", zones, "zone", problems)
    for row in table.rows:
        starts_at, ends_at = row.values.get("starts_at"), row.values.get("ends_at")
        if starts_at is not None and ends_at is not None and ends_at <= starts_at:
            what = "ends_at is not after starts_at; correct one of them"
            problems.add(table.file, what, row=row.line, column="ends_at")


def build_programme(table: Table) -> list[ProgrammeEvent]:
    """The events of a table in which no mistake was found."""
    return [ProgrammeEvent(**row.values) for row in table.rows]
