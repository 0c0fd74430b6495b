"""The statement by which DuckDB reads lines of plain shape: those on which it surely agrees with json_line.py.

DuckDB's reader is more lenient than the format: it takes the first of two equal names, commas before a
closing bracket, and text or truths where a number is wanted. Hence the types and names of each line are
looked at beside its values; a line with anything unusual keeps its text and is read again one by one.
"""

from motelake.formats.acceptance import FIELDS
from motelake.formats.json_line import LEVELS_PER_LINE
from motelake.formats.plan import ReadingPlan
from motelake.formats.staging import MOTES

_NUMBERS = "('UBIGINT', 'BIGINT', 'DOUBLE')"
_NAME = "[A-Za-z0-9][A-Za-z0-9_.:-]{0,63}"
_PLAIN_TIME = (
    r"\d{4}-\d{2}-\d{2}T([01]\d|2[0-3]):[0-5]\d:[0-5]\d(\.\d{1,6})?(Z|[+-](0\d|1[0-4]):[0-5]\d)"
)
_TEXTS = ("gateway", "mote", "received_at")


def plain_shape_query(plan: ReadingPlan) -> str:
    """A select over delivered_line (line, text) with parameters starts_at and accepts_until.

    One row a line: the columns of staged_hearing without object, then unknown_names (what was dropped, or
    null) and other_text: null for a line of plain shape, else its text; the other columns then mean nothing.
    """
    measures = list(plan.measures)
    types = {name: f"types[{i}]" for i, name in enumerate(FIELDS, 1)}
    measure_types = [f"types[{i}]" for i, _ in enumerate(measures, len(FIELDS) + 1)]
    numbers = ["seq", "rssi_dbm", "battery_v"]
    values = [f"burst.{name} + 0.0 as {name}" for name in numbers]
    values += [f"burst.readings.{measure} + 0.0 as reading_{measure}" for measure in measures]
    is_plain = [
        f"{types['mote']} = 'VARCHAR'",
        f"mote in (select mote from {MOTES})",
        f"{types['received_at']} = 'VARCHAR'",
        f"regexp_full_match(received_text, '{_PLAIN_TIME}')",
        "received_at >= $starts_at and received_at < $accepts_until",
        f"{types['readings']} = 'OBJECT'",
        f"(gateway is null or {types['gateway']} = 'VARCHAR' and regexp_full_match(gateway, '{_NAME}'))",
        "(seq is null or seq >= 0 and seq < 9007199254740992 and seq = floor(seq))",
        *(f"({types[name]} is null or {types[name]} in ('NULL', {_NUMBERS[1:]})" for name in numbers),
        *(f"({told} is null or {told} in {_NUMBERS})" for told in measure_types),
        *(f"({value} is null or isfinite({value}))" for value in (*numbers, *(f"reading_{m}" for m in measures))),
        r"not regexp_matches(text, ',\s*[}\]]')",
        f"(unknown_names is null or {_ARE_PLAIN_UNKNOWNS})",
    ]
    return f"""
    with parsed as (
        select line, text, json_valid(text) as is_json,
            case when is_json then from_json(text, '{_structure(measures)}') end as burst,
            case when is_json then json_type(text, {_paths(measures)}) end as types,
            case when is_json then json_keys(text, ['$', '$.readings']) end as names
        from delivered_line
    ),
    told as (
        select line, text, types, names,
            burst.mote as mote, burst.gateway as gateway, burst.received_at as received_text,
            try_cast(burst.received_at as timestamptz) as received_at,
            {", ".join(values)},
            case when len(names[1]) + len(names[2]) > list_count(types) then
                list_filter(names[1], lambda name: name not in ({_quoted(FIELDS)}))
                || list_filter(names[2], lambda name: name not in ({_quoted(measures)}))
            end as unknown_names
        from parsed
    )
    select line, mote, seq::bigint as seq, gateway, received_at, rssi_dbm, battery_v,
        {", ".join(f"reading_{measure}" for measure in measures)},
        unknown_names,
        case when not coalesce({" and ".join(is_plain)}, false) then text end as other_text
    from told
    """


_ARE_PLAIN_UNKNOWNS = f"""
    len(list_distinct(names[1])) = len(names[1]) and len(list_distinct(names[2])) = len(names[2])
    and not regexp_matches(text, '(?i)nan|inf')
    and strlen(text) - strlen(replace(replace(text, '[', ''), '{{', '')) <= {LEVELS_PER_LINE}
"""


def _structure(measures: list[str]) -> str:
    readings = ", ".join(f'"{measure}": "DOUBLE"' for measure in measures)
    fields = [f'"{name}": "{"VARCHAR" if name in _TEXTS else "DOUBLE"}"' for name in FIELDS if name != "readings"]
    return f'{{{", ".join(fields)}, "readings": {{{readings}}}}}'


def _paths(measures: list[str]) -> str:
    return "[" + _quoted([f"$.{name}" for name in FIELDS] + [f"$.readings.{name}" for name in measures]) + "]"


def _quoted(names: tuple[str, ...] | list[str]) -> str:
    return ", ".join(f"'{name}'" for name in names)
