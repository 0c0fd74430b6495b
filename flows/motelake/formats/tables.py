"""The temporary tables in which hearings and rejects of many objects come together."""

import pyarrow as pa

from motelake.formats.plan import ReadingPlan

HEARINGS = "staged_hearing"
LINES = "staged_line"
LINE_REJECTS = "staged_line_reject"
READING_REJECTS = "staged_reading_reject"
OBJECTS = "staged_object"
MOTES = "staging_mote"

Row = tuple[object, ...]

HEARD = pa.schema(
    {
        "line": pa.int64(),
        "mote_number": pa.int32(),
        "seq": pa.int64(),
        "gateway": pa.string(),
        "received_at": pa.timestamp("us", tz="UTC"),
        "rssi_dbm": pa.float64(),
        "battery_v": pa.float64(),
    }
)
"""Columns of the hearing relation between the object and the readings; the mote is a number here."""

_NUMBER = pa.field("object_number", pa.int32())
"""Numbers stand for the names of objects and motes, in the order of the names: whole numbers sort quickly."""

_BESIDE = pa.schema({"unknown_names": pa.list_(pa.string()), "other_text": pa.string()})
"""What JSON Lines keeps beside a row until its object is settled."""

_LINE_REJECT = pa.schema(
    {"object": pa.string(), "line": pa.int64(), "reason": pa.string(), "mote": pa.string()}
)
_READING_REJECT = pa.schema(
    {
        "object": pa.string(),
        "line": pa.int64(),
        "mote": pa.string(),
        "measure": pa.string(),
        "reason": pa.string(),
    }
)


def table_schemas(plan: ReadingPlan) -> dict[str, pa.Schema]:
    """The columns of each table that takes rows."""
    readings = [pa.field(f"reading_{measure}", pa.float64()) for measure in plan.measures]
    return {
        OBJECTS: pa.schema([_NUMBER, pa.field("object", pa.string())]),
        LINES: pa.schema([_NUMBER, *HEARD, *readings, *_BESIDE]),
        LINE_REJECTS: _LINE_REJECT,
        READING_REJECTS: _READING_REJECT,
    }


def hearings_query(plan: ReadingPlan) -> str:
    """The hearing relation: object, line, mote, the rest of HEARD and one reading_<measure> a measure."""
    names = [*HEARD.names[2:], *(f"reading_{measure}" for measure in plan.measures)]
    columns = ", ".join(f'"{name}"' for name in names)
    return (
        f"select object, line, mote, {columns} "
        f"from {LINES} join {OBJECTS} using (object_number) join {MOTES} using (mote_number)"
    )


def mote_table(plan: ReadingPlan) -> pa.Table:
    """The registered motes, by number, by name and as the name stands in JSON."""
    names = list(plan.mote_numbers)
    return pa.table(
        {
            "mote_number": pa.array(plan.mote_numbers.values(), pa.int32()),
            "mote": pa.array(names, pa.string()),
            "quoted": pa.array([f'"{name}"' for name in names], pa.string()),
        }
    )
