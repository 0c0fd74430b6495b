"""One line of JSON to a hearing or a reject: the definition of the JSON Lines format."""

import json
import re

from motelake.core.reasons import LineReason
from motelake.formats.acceptance import LineRejectedError, accept
from motelake.formats.elements import LEVELS_PER_LINE
from motelake.formats.plan import Hearing, LineReject, ReadingPlan

_TOKENS = re.compile(r'"(?:[^"\\]|\\.)*"?|[\[\]{}]')


class Members(list[tuple[str, object]]):
    """The members of a JSON object, in order and with repetitions."""


_decoder = json.JSONDecoder(object_pairs_hook=Members, parse_int=float)


def read_json_line(line: int, text: str, plan: ReadingPlan) -> Hearing | LineReject | None:
    """The burst that a line of JSON tells, or why it was rejected; None for a line of nothing but spaces.

    Two choices the standard leaves open (RFC 8259, 4 and 6): a name that stands twice in the burst or in its
    readings makes the line not_json, for readers differ in which one they take; the literals NaN and
    Infinity, no JSON but written by common encoders, are read, so that they cost a reading and not a burst.
    """
    if not text.strip(" \t\r\n"):
        return None
    try:
        fields, readings = _load(text)
        return accept(line, fields, readings, plan)
    except LineRejectedError as rejected:
        return LineReject(line, rejected.reason, rejected.mote)


def _load(text: str) -> tuple[dict[str, object], Members | None]:
    if nests_too_deep(text):
        raise LineRejectedError(LineReason.NOT_JSON)
    try:
        burst = _decoder.decode(text)
    except ValueError:
        raise LineRejectedError(LineReason.NOT_JSON) from None
    if not isinstance(burst, Members):
        raise LineRejectedError(LineReason.NOT_AN_OBJECT)
    fields = _without_repetition(burst)
    readings = fields.pop("readings", None)
    if not isinstance(readings, Members):
        return fields, None
    _without_repetition(readings)
    return fields, readings


def _without_repetition(members: Members) -> dict[str, object]:
    fields = dict(members)
    if len(fields) < len(members):
        raise LineRejectedError(LineReason.NOT_JSON)
    return fields


def nests_too_deep(text: str) -> bool:
    """Whether brackets nest deeper in a JSON text than a line may have them."""
    if text.count("[") + text.count("{") <= LEVELS_PER_LINE:
        return False
    level = deepest = 0
    for token in _TOKENS.findall(text):
        level += {"[": 1, "{": 1, "]": -1, "}": -1}.get(token, 0)
        deepest = max(deepest, level)
    return deepest > LEVELS_PER_LINE
