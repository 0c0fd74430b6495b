"""One line of JSON to a hearing or a reject: the definition of the JSON Lines format."""

import json
import re

from motelake.core.bursts import LineReason
from motelake.formats.acceptance import LineRejected, accept
from motelake.formats.plan import Hearing, LineReject, ReadingPlan

LEVELS_PER_LINE = 64
"""How deep brackets may nest, so that no reader runs out of stack on a line."""

_TOKENS = re.compile(r'"(?:[^"\\]|\\.)*"?|[\[\]{}]')


class _Members(list[tuple[str, object]]):
    """The members of a JSON object, in order and with repetitions."""


_decoder = json.JSONDecoder(object_pairs_hook=_Members, parse_int=float)


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
    except LineRejected as rejected:
        return LineReject(line, rejected.reason, rejected.mote)


def _load(text: str) -> tuple[dict[str, object], _Members | None]:
    if _nests_too_deep(text):
        raise LineRejected(LineReason.NOT_JSON)
    try:
        burst = _decoder.decode(text)
    except ValueError:
        raise LineRejected(LineReason.NOT_JSON) from None
    if not isinstance(burst, _Members):
        raise LineRejected(LineReason.NOT_AN_OBJECT)
    fields = _without_repetition(burst)
    readings = fields.pop("readings", None)
    if not isinstance(readings, _Members):
        return fields, None
    _without_repetition(readings)
    return fields, readings


def _without_repetition(members: _Members) -> dict[str, object]:
    fields = dict(members)
    if len(fields) < len(members):
        raise LineRejected(LineReason.NOT_JSON)
    return fields


def _nests_too_deep(text: str) -> bool:
    if text.count("[") + text.count("{") <= LEVELS_PER_LINE:
        return False
    level = deepest = 0
    for token in _TOKENS.findall(text):
        level += {"[": 1, "{": 1, "]": -1, "}": -1}.get(token, 0)
        deepest = max(deepest, level)
    return deepest > LEVELS_PER_LINE
