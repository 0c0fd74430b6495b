"""Calling an entry of the library with values given as text, each checked before anything runs."""

from collections.abc import Collection, Mapping
from datetime import UTC, date, datetime, tzinfo
from math import isfinite

from motelake.errors import QueryError, UnknownNameError, did_you_mean
from motelake.library.about import Entry, Parameter

Value = str | int | float | bool | date | datetime | None
_TRUTHS = {"true": True, "yes": True, "1": True, "false": False, "no": False, "0": False}


def call(
    entry: Entry,
    given: Mapping[str, str],
    known: Mapping[str, Collection[str]] | None = None,
    *,
    zone: tzinfo = UTC,
) -> tuple[str, list[Value]]:
    """The statement that asks a view or macro, and the values of its parameters in order.

    known holds, for a kind of name such as "measure" or "zone", the names that exist in the data; a kind
    that it lacks is not checked. zone is that of times without an offset.
    Raises QueryError or UnknownNameError, each naming the parameter and what it accepts.
    """
    parameters = {parameter.name: parameter for parameter in entry.parameters}
    for name in given:
        if name not in parameters:
            raise QueryError(_unknown_parameter(entry, name))
    for parameter in entry.parameters:
        if parameter.is_required and parameter.name not in given:
            raise QueryError(
                f"{entry.name} needs {parameter.name}: {parameter.doc}. Write {parameter.name}=..."
            )
    if entry.kind == "view":
        return f"select * from {entry.name}", []
    values = [_checked(entry, parameters[name], text, known or {}, zone) for name, text in given.items()]
    arguments = ", ".join(f"{name} := ?" for name in given)
    return f"select * from {entry.name}({arguments})", values


def _unknown_parameter(entry: Entry, name: str) -> str:
    names = [parameter.name for parameter in entry.parameters]
    if not names:
        return f"{entry.name} takes no parameters, so it cannot use {name!r}."
    return f"{entry.name} has no parameter {name!r}.{did_you_mean(name, names)} It takes {', '.join(names)}."


def _checked(
    entry: Entry, parameter: Parameter, text: str, known: Mapping[str, Collection[str]], zone: tzinfo
) -> Value:
    where = f"{parameter.name} of {entry.name}"
    if isinstance(parameter.of, tuple):
        if text not in parameter.of:
            hint = did_you_mean(text, parameter.of)
            raise QueryError(f"{where} is one of {', '.join(parameter.of)}, not {text!r}.{hint}")
    elif parameter.of is not None and text not in known.get(parameter.of, [text]):
        raise UnknownNameError(f"{parameter.of} for {where}, named", text, known[parameter.of])
    value = _converted(where, parameter.type, text, zone)
    if isinstance(value, int | float) and not isinstance(value, bool):
        _check_range(where, parameter, value)
    return value


def _check_range(where: str, parameter: Parameter, value: float) -> None:
    is_low = parameter.least is not None and value < parameter.least
    is_high = parameter.most is not None and value > parameter.most
    if is_low or is_high:
        bounds = [
            f"at least {parameter.least:g}" if parameter.least is not None else "",
            f"at most {parameter.most:g}" if parameter.most is not None else "",
        ]
        raise QueryError(f"{where} is {' and '.join(filter(None, bounds))}; {value:g} was given.")


def _converted(where: str, type_name: str, text: str, zone: tzinfo) -> Value:
    try:
        match type_name:
            case "VARCHAR":
                return text
            case "BOOLEAN":
                return _TRUTHS[text.lower()]
            case "INTEGER" | "BIGINT":
                return int(text)
            case "DOUBLE":
                number = float(text)
                if not isfinite(number):
                    raise ValueError(text)
                return number
            case "DATE":
                return date.fromisoformat(text)
            case "TIMESTAMPTZ":
                moment = datetime.fromisoformat(text)
                return moment if moment.tzinfo else moment.replace(tzinfo=zone)
    except (ValueError, KeyError):
        pass
    expected = {
        "BOOLEAN": "true or false",
        "INTEGER": "a whole number",
        "BIGINT": "a whole number",
        "DOUBLE": "a number",
        "DATE": "a day such as 2031-05-09",
        "TIMESTAMPTZ": "a time such as 2031-05-09T10:00:00Z",
    }
    raise QueryError(f"{where} is {expected.get(type_name, type_name)}, not {text!r}.")
