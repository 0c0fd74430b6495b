"""The files of register/ read into a Register."""

from collections.abc import Mapping

from motelake.core.cells import (
    one_of,
    read_kit,
    read_measure_name,
    read_name,
    read_number,
    read_positive_number,
)
from motelake.core.instants import parse_instant
from motelake.core.problems import Problems
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
from motelake.core.tables import Column, Table, read_table

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
        Column("installed_at", parse_instant),
        Column("removed_at", parse_instant),
        Column("note", str),
        Column("burst_period_s", read_positive_number, is_optional=True),
    ),
    GATEWAYS: (
        Column("gateway", read_name, is_needed=True),
        Column("network", read_name, is_needed=True),
        *_PLACE,
        Column("hidden_at", str),
        Column("note", str),
    ),
    ZONES: (
        Column("zone", read_name, is_needed=True),
        Column("level", read_name, is_needed=True),
        Column("title", str),
        Column("kind", str),
        Column("area_m2", read_positive_number),
        Column("x_m", read_number),
        Column("y_m", read_number),
    ),
    MEASURES: (
        Column("measure", read_measure_name, is_needed=True),
        Column("title", str),
        Column("unit", str, is_needed=True),
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
        Column("from_at", parse_instant, is_needed=True),
        *_PLACE,
        Column("how", one_of(PLACEMENT_HOWS), is_needed=True),
        Column("note", str),
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
    return tables


def build_register(tables: Mapping[str, Table]) -> Register:
    """The register of tables in which no mistake was found."""
    return Register(
        motes=tuple(Mote(**row.values) for row in tables[MOTES].rows),
        gateways=tuple(Gateway(**row.values) for row in tables[GATEWAYS].rows),
        zones=tuple(Zone(**row.values) for row in tables[ZONES].rows),
        measures=tuple(Measure(**row.values) for row in tables[MEASURES].rows),
        placements=tuple(Placement(**row.values) for row in tables[PLACEMENTS].rows),
    )
