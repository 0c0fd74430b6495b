"""The files of register/ read into a Register, and written from one."""

from collections.abc import Collection, Mapping
from typing import Any

from motelake.core.cells import (
    one_of,
    read_instant,
    read_kit,
    read_measure_name,
    read_name,
    read_number,
    read_positive_number,
    read_text,
)
from motelake.core.problems import Problems, shown, unknown
from motelake.core.register import (
    MEASURE_KINDS,
    PLACEMENT_HOWS,
    POWERS,
    ROLES,
    Gateway,
    Measure,
    Mote,
    Placement,
    Register,
    Zone,
)
from motelake.core.tables import Column, Row, Table, check_unique, read_table, write_table

MOTES = "register/motes.csv"
GATEWAYS = "register/gateways.csv"
ZONES = "register/zones.csv"
MEASURES = "register/measures.csv"
PLACEMENTS = "register/placements.csv"

_PLACE = (
    Column("level", read_name),
    Column("zone", read_name),
    Column("x_m", read_number),
    Column("y_m", read_number),
)
_COLUMNS = {
    MOTES: (
        Column("mote", read_name, is_needed=True),
        Column("network", read_name),
        Column("kit", read_kit, is_needed=True),
        *_PLACE,
        Column("power", one_of(POWERS)),
        Column("installed_at", read_instant),
        Column("removed_at", read_instant),
        Column("note", read_text),
        Column("burst_period_s", read_positive_number, is_optional=True),
    ),
    GATEWAYS: (
        Column("gateway", read_name, is_needed=True),
        Column("network", read_name, is_needed=True),
        *_PLACE,
        Column("hidden_at", read_text),
        Column("note", read_text),
    ),
    ZONES: (
        Column("zone", read_name, is_needed=True),
        Column("level", read_name, is_needed=True),
        Column("title", read_text),
        Column("kind", read_text),
        Column("area_m2", read_positive_number),
        Column("x_m", read_number),
        Column("y_m", read_number),
    ),
    MEASURES: (
        Column("measure", read_measure_name, is_needed=True),
        Column("title", read_text),
        Column("unit", read_text, is_needed=True),
        Column("kind", one_of(MEASURE_KINDS), is_needed=True),
        Column("role", one_of(ROLES)),
        Column("span_low", read_number),
        Column("span_high", read_number),
        Column("usual_low", read_number),
        Column("usual_high", read_number),
        Column("max_step", read_positive_number),
        Column("flat_after_min", read_positive_number),
    ),
    PLACEMENTS: (
        Column("mote", read_name, is_needed=True),
        Column("from_at", read_instant, is_needed=True),
        *_PLACE,
        Column("how", one_of(PLACEMENT_HOWS), is_needed=True),
        Column("note", read_text),
    ),
}
_REQUIRED = (MOTES, ZONES, MEASURES)
REGISTER_FILES = tuple(_COLUMNS)


def read_register_tables(files: Mapping[str, bytes], problems: Problems) -> dict[str, Table]:
    """The five tables of register/ by file name, cell by cell; what is not there is an empty table."""
    tables = {}
    for file, columns in _COLUMNS.items():
        if file in files:
            tables[file] = read_table(file, files[file], columns, problems)
            continue
        tables[file] = Table(file)
        if file in _REQUIRED:
            header = ",".join(column.name for column in columns if not column.is_optional)
            problems.add(file, f"the file is missing; make it, with the header {header}")
    for file, column in ((MOTES, "mote"), (GATEWAYS, "gateway"), (ZONES, "zone"), (MEASURES, "measure")):
        check_unique(tables[file], column, problems)
    check_unique(tables[MEASURES], "role", problems)
    return tables


def check_register(tables: Mapping[str, Table], levels: Collection[str] | None, problems: Problems) -> None:
    """Note what contradicts something else in the register; `levels` is None where they could not be read."""
    for row in tables[MEASURES].rows:
        _check_spans(row, problems)
    for row in tables[MOTES].rows:
        _check_order(row, problems)
        _check_kit(row, tables[MEASURES], problems)
        _check_reference(MOTES, row, "network", tables[GATEWAYS], problems)
    for row in tables[PLACEMENTS].rows:
        _check_reference(PLACEMENTS, row, "mote", tables[MOTES], problems)
    for file in (MOTES, GATEWAYS, ZONES, PLACEMENTS):
        for row in tables[file].rows:
            _check_level(file, row, levels, problems)
    level_of_zone = {row.values.get("zone"): row.values.get("level") for row in tables[ZONES].rows}
    for file in (MOTES, GATEWAYS, PLACEMENTS):
        for row in tables[file].rows:
            _check_reference(file, row, "zone", tables[ZONES], problems)
            _check_storey(file, row, level_of_zone, problems)


def build_register(tables: Mapping[str, Table]) -> Register:
    """The register of tables in which no mistake was found."""
    return Register(
        motes=tuple(Mote(**row.values) for row in tables[MOTES].rows),
        gateways=tuple(Gateway(**row.values) for row in tables[GATEWAYS].rows),
        zones=tuple(Zone(**row.values) for row in tables[ZONES].rows),
        measures=tuple(Measure(**row.values) for row in tables[MEASURES].rows),
        placements=tuple(Placement(**row.values) for row in tables[PLACEMENTS].rows),
    )


def write_register(register: Register) -> dict[str, bytes]:
    """The files of register/ that read back as this register."""
    return {
        MOTES: write_table(_COLUMNS[MOTES], register.motes),
        GATEWAYS: write_table(_COLUMNS[GATEWAYS], register.gateways),
        ZONES: write_table(_COLUMNS[ZONES], register.zones),
        MEASURES: write_table(_COLUMNS[MEASURES], register.measures),
        PLACEMENTS: write_table(_COLUMNS[PLACEMENTS], register.placements),
    }


def _check_spans(row: Row, problems: Problems) -> None:
    def refuse_above(low: str, high: str, what: str) -> None:
        lower, upper = row.values.get(low), row.values.get(high)
        if lower is not None and upper is not None and lower > upper:
            problems.add(
                MEASURES, f"{low} {lower:g} is above {high} {upper:g}; {what}", row=row.line, column=low
            )

    refuse_above("span_low", "span_high", "swap them")
    refuse_above("usual_low", "usual_high", "swap them")
    refuse_above("span_low", "usual_low", "what is usual must lie within what the sensor can report")
    refuse_above("usual_high", "span_high", "what is usual must lie within what the sensor can report")


def _check_order(row: Row, problems: Problems) -> None:
    installed_at, removed_at = row.values.get("installed_at"), row.values.get("removed_at")
    if installed_at is not None and removed_at is not None and removed_at <= installed_at:
        what = "removed_at is not after installed_at; correct one of them"
        problems.add(MOTES, what, row=row.line, column="removed_at")


def _check_kit(row: Row, measures: Table, problems: Problems) -> None:
    known = measures.values_of("measure")
    for measure in (row.values.get("kit") or "").split("+"):
        if measure and known and measure not in known:
            problems.add(MOTES, unknown(measure, "measure", known, MEASURES), row=row.line, column="kit")


def _check_reference(file: str, row: Row, column: str, table: Table, problems: Problems) -> None:
    # A file that is missing or empty is one mistake, told once; it does not make every name a mistake.
    known = table.values_of(column)
    name = row.values.get(column)
    if name is not None and known and name not in known:
        problems.add(file, unknown(name, column, known, table.file), row=row.line, column=column)


def _check_level(file: str, row: Row, levels: Collection[str] | None, problems: Problems) -> None:
    level = row.values.get("level")
    if level is not None and levels is not None and level not in levels:
        what = unknown(level, "level", levels, "[levels] in campaign.toml")
        problems.add(file, what, row=row.line, column="level")


def _check_storey(file: str, row: Row, level_of_zone: Mapping[Any, Any], problems: Problems) -> None:
    level, zone = row.values.get("level"), row.values.get("zone")
    expected = level_of_zone.get(zone)
    if zone is not None and level is not None and expected is not None and level != expected:
        what = f"{shown(level)}, but {ZONES} has zone {zone!r} on level {expected!r}; correct one of them"
        problems.add(file, what, row=row.line, column="level")
