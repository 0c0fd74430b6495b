"""What contradicts something else in a register: references, orders and spans."""

from collections.abc import Collection, Mapping

from motelake.core.problems import Problems, shown
from motelake.core.register_files import GATEWAYS, MEASURES, MOTES, PLACEMENTS, ZONES
from motelake.core.tables import Row, Table, check_among, check_known, check_unique


def check_register(tables: Mapping[str, Table], levels: Collection[str] | None, problems: Problems) -> None:
    """Note every contradiction; `levels` are those of the plan, None where they could not be read."""
    for file, column in ((MOTES, "mote"), (GATEWAYS, "gateway"), (ZONES, "zone"), (MEASURES, "measure")):
        check_unique(tables[file], column, problems)
    # Views find a measure by its role, so no two may have one role.
    check_unique(tables[MEASURES], "role", problems)
    check_known(tables[MOTES], "kit", tables[MEASURES], "measure", problems)
    check_known(tables[PLACEMENTS], "mote", tables[MOTES], "mote", problems)
    if tables[GATEWAYS].rows:
        check_known(tables[MOTES], "network", tables[GATEWAYS], "network", problems)
    for file in (MOTES, GATEWAYS, ZONES, PLACEMENTS):
        if levels is not None:
            check_among(tables[file], "level", levels, "is no level of [levels] in campaign.toml", problems)
    for file in (MOTES, GATEWAYS, PLACEMENTS):
        check_known(tables[file], "zone", tables[ZONES], "zone", problems)
        _check_storeys(tables[file], tables[ZONES], problems)
    for row in tables[MOTES].rows:
        _check_order(row, problems)
    for row in tables[MEASURES].rows:
        _check_spans(row, problems)


def _check_storeys(table: Table, zones: Table, problems: Problems) -> None:
    level_of_zone = {row.values.get("zone"): row.values.get("level") for row in zones.rows}
    for row in table.rows:
        level, zone = row.values.get("level"), row.values.get("zone")
        expected = level_of_zone.get(zone)
        if zone is not None and level is not None and expected is not None and level != expected:
            what = f"{shown(level)}, but {zones.file} has {zone!r} on level {expected!r}; correct one of them"
            problems.add(table.file, what, row=row.line, column="level")


def _check_order(row: Row, problems: Problems) -> None:
    installed_at, removed_at = row.values.get("installed_at"), row.values.get("removed_at")
    if installed_at is not None and removed_at is not None and removed_at <= installed_at:
        what = "removed_at is not after installed_at; correct one of them"
        problems.add(MOTES, what, row=row.line, column="removed_at")


def _check_spans(row: Row, problems: Problems) -> None:
    for low, high, what in (
        ("span_low", "span_high", "swap them"),
        ("usual_low", "usual_high", "swap them"),
        ("span_low", "usual_low", "what is usual must lie within what the sensor can report"),
        ("usual_high", "span_high", "what is usual must lie within what the sensor can report"),
    ):
        lower, upper = row.values.get(low), row.values.get(high)
        if lower is not None and upper is not None and lower > upper:
            problems.add(
                MEASURES, f"{low} {lower:g} is above {high} {upper:g}; {what}", row=row.line, column=low
            )
