"""SenML JSON (RFC 8428): packs of records named <mote>:<measure>, one reading a record."""

import json
from datetime import UTC, datetime, timedelta
from decimal import Decimal

from motelake.core.reasons import LineReason, ReadingReason
from motelake.formats.acceptance import LineRejectedError, accept
from motelake.formats.delivered import Delivered
from motelake.formats.elements import Mark, cut_elements
from motelake.formats.json_line import Members, nests_too_deep
from motelake.formats.ledger import Ledger
from motelake.formats.plan import Hearing, LineReject, ReadingPlan
from motelake.formats.senml import LABELS, Pack, SenmlError
from motelake.formats.units import convert

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_FARTHEST_S = Decimal(10**11)
"""Past every calendar; a number with a huge exponent is not to be written out."""

_decoder = json.JSONDecoder(
    object_pairs_hook=Members, parse_int=Decimal, parse_float=Decimal, parse_constant=Decimal
)


def read_senml(delivered: Delivered, ledger: Ledger) -> None:
    """Stages every record of an object, which holds one pack or several, one after another.

    A line is a record, its number the place of the record in the object; records that only set base values
    are no lines. Each record becomes a hearing; those of one burst are united where bursts are told apart. A
    sum is another quantity than the value beside it: it is dropped and counted as "s".

    Where the standard thinks of a whole pack and this reader of a stream: after a record that cannot be read,
    or says that its pack cannot be understood (a version above 10, a label ending in _), base values are in
    doubt, so the rest of the pack is rejected as bad_record, while the records before it stand. A file has no
    now, so a relative time is bad_received_at.
    """
    line = 1
    reader = SenmlReader(ledger.plan)
    blocks = delivered.blocks()
    is_garbled = False
    for element in cut_elements(blocks, ledger.plan.bytes_per_line):
        if element is Mark.ARRAY:
            reader = SenmlReader(ledger.plan)
        elif element is Mark.GARBLED:
            is_garbled = True
        else:
            ledger.take(reader.read(line, element))
            line += 1
    for _ in blocks:
        pass  # what cannot be read still belongs to the object
    if delivered.is_damaged:
        ledger.take(LineReject(line, LineReason.TRUNCATED))
    elif is_garbled:
        ledger.take(LineReject(line, LineReason.NOT_JSON))


class SenmlReader:
    """Reads the records of one pack in their order."""

    def __init__(self, plan: ReadingPlan) -> None:
        self._plan = plan
        self._pack = Pack()
        self._is_in_doubt = False

    def read(self, line: int, element: bytes | Mark) -> Hearing | LineReject | None:
        """The hearing that a record tells, or why it was rejected; None if it only sets base values."""
        if self._is_in_doubt:
            return LineReject(line, LineReason.BAD_RECORD)
        try:
            record = _load(element)
        except LineRejectedError as rejected:
            # What base values it set nobody knows.
            self._is_in_doubt = True
            return LineReject(line, rejected.reason)
        try:
            resolved = self._pack.resolve(record, now=None)
        except SenmlError as error:
            self._is_in_doubt = error.ends_pack
            return LineReject(line, LineReason.BAD_RECORD)
        if resolved is None:
            return None
        try:
            return self._accept(line, resolved, [label for label in record if label not in LABELS])
        except LineRejectedError as rejected:
            return LineReject(line, rejected.reason, rejected.mote)

    def _accept(self, line: int, resolved: dict[str, object], unknown: list[str]) -> Hearing:
        # Motes may have colons in their names, measures may not.
        mote, colon, measure = str(resolved["n"]).rpartition(":")
        if not colon:
            raise LineRejectedError(LineReason.BAD_RECORD)
        fields = {"mote": mote, "received_at": _instant(resolved["t"])}
        values = [resolved[label] for label in ("v", "vs", "vb", "vd") if label in resolved]
        readings = [
            (measure, self._in_unit_of_register(value, measure, resolved.get("u"))) for value in values
        ]
        sums = ["s"] if "s" in resolved else []
        return accept(line, fields, readings, self._plan, unknown + sums)

    def _in_unit_of_register(self, value: object, measure: str, unit: object) -> object:
        """Without a unit the value is taken to be in that of the register."""
        if not isinstance(value, Decimal):
            return value
        wanted = self._plan.measures.get(measure)
        if wanted is None or unit is None:
            return float(value)
        converted = convert(float(value), str(unit), wanted)
        return ReadingReason.UNIT_MISMATCH if converted is None else converted


def _load(element: bytes | Mark) -> dict[str, object]:
    if isinstance(element, Mark):
        raise LineRejectedError(LineReason.LINE_TOO_LONG)
    try:
        text = element.decode()
    except UnicodeDecodeError:
        raise LineRejectedError(LineReason.NOT_UTF8) from None
    if nests_too_deep(text):
        raise LineRejectedError(LineReason.NOT_JSON)
    try:
        members = _decoder.decode(text)
    except (ValueError, ArithmeticError):
        raise LineRejectedError(LineReason.NOT_JSON) from None
    if not isinstance(members, Members):
        raise LineRejectedError(LineReason.NOT_AN_OBJECT)
    record = dict(members)
    if len(record) < len(members):
        raise LineRejectedError(LineReason.NOT_JSON)
    return record


def _instant(seconds: object) -> datetime | str:
    """The instant, to the microsecond; an empty text, which is no time, where there is none."""
    if not isinstance(seconds, Decimal) or not 0 <= seconds < _FARTHEST_S:
        return ""
    return _EPOCH + timedelta(microseconds=int(seconds * 10**6))
