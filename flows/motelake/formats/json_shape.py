"""The statement by which DuckDB reads lines of plain shape, on which it surely agrees with json_line.py.

DuckDB's reader is more lenient than the format: of two equal names it takes the first, it overlooks a comma
before a closing bracket, and makes numbers of texts and truths. So each line is proven plain, or read again:

- Simple proof: its quotation marks are exactly those of the known names that were found, and of the three
  texts mote, gateway and received_at. Then nothing else stands in it: no other name, no name twice, no text
  in place of a number. Its commas are those between the members of two objects, and it holds no truth.
- Full proof, where that fails: the types and names of the line are looked at one by one. This is how lines
  with unknown fields pass.
"""

from collections.abc import Iterable

from motelake.formats.acceptance import FIELDS, SEQ_END
from motelake.formats.elements import LEVELS_PER_LINE
from motelake.formats.plan import ReadingPlan

_NAME = "[A-Za-z0-9][A-Za-z0-9_.:-]{0,63}"
_PLAIN_TIME = r"\d{4}-\d{2}-\d{2}T([01]\d|2[0-3]):[0-5]\d:[0-5]\d(\.\d{1,6})?(Z|[+-](0\d|1[0-4]):[0-5]\d)"
_NUMBERS = ("seq", "rssi_dbm", "battery_v")
_NUMBER_TYPES = "'UBIGINT', 'BIGINT', 'DOUBLE'"


def plain_shape_query(plan: ReadingPlan, motes: str) -> str:
    """A select over delivered_line (object_number and what lines.py gives) by starts_at and accepts_until.

    motes is a table (mote_number, quoted) of the registered names as JSON text. Gives one row a line: the
    columns of the hearing relation with numbers for the names of object and mote, then unknown_names (dropped
    fields, or null) and other_text: null for a line proven plain, else its text, and then the other columns
    mean nothing.
    """
    measures = list(plan.measures)
    readings = [f"burst.readings.{measure}" for measure in measures]
    names = [f"burst.{name}" for name in FIELDS] + readings
    numbers = {name: f"burst.{name}" for name in _NUMBERS}
    numbers |= {f"reading_{measure}": f"burst.readings.{measure}" for measure in measures}
    return f"""
    with parsed as (
        select object_number, line, text, quotes, commas, json_valid(text) as is_json,
            -- What is no JSON would stop the statement; of an empty object nothing is found.
            from_json(case when is_json then text else '{{}}' end, '{_structure(measures)}') as burst
        from delivered_line
    ),
    told as (
        select object_number, line, text, quotes, commas, is_json,
            burst.mote::varchar as quoted_mote, burst.gateway::varchar as quoted_gateway,
            burst.received_at as received_text, try_cast(received_text as timestamptz) as received_at,
            -- Minus zero becomes zero: equal values shall have equal bits.
            {", ".join(f"{value} + 0.0 as {name}" for name, value in numbers.items())},
            {_count(names)} as found,
            {_count(["burst.mote", "burst.gateway", "burst.received_at"])} as texts,
            coalesce({", ".join(readings)}) is not null as has_reading
        from parsed
    ),
    proven as (
        select * exclude (quotes, commas, found, texts, has_reading),
            coalesce(
                -- Of a reading that was found, readings is surely an object.
                has_reading and quotes = 2 * (found + texts) and commas = found - 2
                and (quoted_gateway is null or quoted_gateway[1] = '"')
                and not contains(text, 'true') and not contains(text, 'false'),
                false
            ) as is_simple
        from told
    ),
    seen as (
        select *,
            case when is_json and not is_simple then json_type(text, {_paths(measures)}) end as types,
            case when is_json and not is_simple then json_keys(text, ['$', '$.readings']) end as names
        from proven
    )
    select object_number, line, registered.mote_number as mote_number, try_cast(seq as bigint) as seq,
        quoted_gateway[2:-2] as gateway, received_at, rssi_dbm, battery_v,
        {", ".join(f"reading_{measure}" for measure in measures)},
        case when not is_simple then
            list_filter(names[1], lambda name: name not in ({_quoted(FIELDS)}))
            || list_filter(names[2], lambda name: name not in ({_quoted(measures)}))
        end as unknown_names,
        case when registered.mote_number is not null
            and received_at >= $starts_at and received_at < $accepts_until
            and regexp_full_match(received_text, '{_PLAIN_TIME}')
            and (quoted_gateway is null or regexp_full_match(quoted_gateway, '"{_NAME}"'))
            and (seq is null or seq >= 0 and seq < {SEQ_END} and seq = floor(seq))
            and {" and ".join(f"({name} is null or isfinite({name}))" for name in numbers)}
            and case when is_simple then true else {_full_proof(measures)} end
        then null else text end as other_text
    from seen left join {motes} as registered on registered.quoted = quoted_mote
    """


def _full_proof(measures: list[str]) -> str:
    types = {name: f"types[{i}]" for i, name in enumerate([*FIELDS, *measures], 1)}
    return " and ".join(
        [
            *(f"coalesce({types[name]}, 'NULL') in ('NULL', {_NUMBER_TYPES})" for name in _NUMBERS),
            *(f"({types[name]} is null or {types[name]} in ({_NUMBER_TYPES}))" for name in measures),
            f"coalesce({types['gateway']}, 'NULL') in ('NULL', 'VARCHAR')",
            f"{types['mote']} = 'VARCHAR' and {types['readings']} = 'OBJECT'",
            "len(list_distinct(names[1])) = len(names[1]) and len(list_distinct(names[2])) = len(names[2])",
            r"not regexp_matches(text, ',\s*[}\]]')",
            # Inside a field that is dropped, too, these words are no JSON that every reader takes.
            "not regexp_matches(text, '(?i)nan|inf')",
            f"strlen(text) - strlen(replace(replace(text, '[', ''), '{{', '')) <= {LEVELS_PER_LINE}",
        ]
    )


def _structure(measures: list[str]) -> str:
    readings = ", ".join(f'"{measure}": "DOUBLE"' for measure in measures)
    # As JSON a text keeps its quotation marks, by which it is told from a bare number or word.
    types = {"mote": "JSON", "gateway": "JSON", "received_at": "VARCHAR"}
    fields = ", ".join(f'"{name}": "{types.get(name, "DOUBLE")}"' for name in FIELDS if name != "readings")
    return f'{{{fields}, "readings": {{{readings}}}}}'


def _count(values: Iterable[str]) -> str:
    return "(" + " + ".join(f"({value} is not null)::int" for value in values) + ")"


def _paths(measures: list[str]) -> str:
    return "[" + _quoted([f"$.{name}" for name in FIELDS] + [f"$.readings.{name}" for name in measures]) + "]"


def _quoted(names: Iterable[str]) -> str:
    return ", ".join(f"'{name}'" for name in names)
