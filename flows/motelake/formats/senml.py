"""SenML records resolved: every record by itself, without base values (RFC 8428, 4)."""

import re
from collections.abc import Mapping
from decimal import Decimal, Overflow

VERSION = 10
RELATIVE_END_S = 2**28
"""Times below it are relative to now, others are seconds since 1970-01-01T00:00Z (4.5.3)."""

_BASES: Mapping[str, type] = {
    "bver": Decimal,
    "bn": str,
    "bt": Decimal,
    "bu": str,
    "bv": Decimal,
    "bs": Decimal,
}
_VALUES = ("v", "vs", "vb", "vd")
_FIELDS: Mapping[str, type] = {"n": str, "u": str, "t": Decimal, "s": Decimal, "ut": Decimal}
_NAME = re.compile(r"[A-Za-z0-9][-A-Za-z0-9:./_]*", re.ASCII)

LABELS = frozenset((*_BASES, *_VALUES, *_FIELDS))

Record = Mapping[str, object]


class SenmlError(ValueError):
    """A record breaks a rule; if ends_pack, what follows in its pack cannot be understood either."""

    def __init__(self, message: str, *, ends_pack: bool = False) -> None:
        super().__init__(message)
        self.ends_pack = ends_pack


class Pack:
    """The base values in force in a pack; each record may change them for itself and those after it."""

    def __init__(self) -> None:
        self._bases: dict[str, object] = {}

    def resolve(self, record: Record, now: Decimal | None) -> dict[str, object] | None:
        """The record by itself (n, u, t, ut, one of v vs vb vd, s, bver), or None if it only sets bases.

        Numbers are Decimal, so that times keep their microseconds. t is None for a relative time without now.
        A value that is no number is passed on as it is. bver stands where it is not 10 (4.6). Labels that are
        unknown are left out (4.4). Raises SenmlError.
        """
        self._take_bases(record)
        if record.keys() <= _BASES.keys():
            return None
        for label, kind in _FIELDS.items():
            if label in record and not isinstance(record[label], kind):
                raise SenmlError(f"{label} is no {kind.__name__}")
        name = f"{self._bases.get('bn', '')}{record.get('n', '')}"
        if not _NAME.fullmatch(name):
            raise SenmlError(f"bad name {name}")
        unit = record.get("u", self._bases.get("bu"))
        resolved: dict[str, object] = {"n": name} | ({} if unit is None else {"u": unit})
        resolved["t"] = self._time(record, now)
        resolved |= self._value(record)
        if "s" in record or "bs" in self._bases:
            resolved["s"] = _sum(self._bases.get("bs", Decimal(0)), record.get("s", Decimal(0)))
        if not resolved.keys() & {*_VALUES, "s"}:
            raise SenmlError("no value")
        if "ut" in record:
            resolved["ut"] = record["ut"]
        version = self._bases.get("bver", VERSION)
        return resolved if version == VERSION else resolved | {"bver": version}

    def _take_bases(self, record: Record) -> None:
        for label in record:
            if label.endswith("_"):
                raise SenmlError(f"must-understand field {label}", ends_pack=True)
        for label, kind in _BASES.items():
            if label in record:
                if not isinstance(record[label], kind):
                    raise SenmlError(f"{label} is no {kind.__name__}", ends_pack=True)
                self._bases[label] = record[label]
        version = self._bases.get("bver", VERSION)
        if not (isinstance(version, Decimal | int) and 0 < version <= VERSION and version == version // 1):
            raise SenmlError(f"version {version} is not understood", ends_pack=True)

    def _time(self, record: Record, now: Decimal | None) -> Decimal | None:
        time = _sum(self._bases.get("bt", Decimal(0)), record.get("t", Decimal(0)))
        if not time.is_finite():
            return None
        if time >= RELATIVE_END_S:
            return time
        return None if now is None else now + time

    def _value(self, record: Record) -> dict[str, object]:
        told = [label for label in _VALUES if label in record]
        if len(told) > 1:
            raise SenmlError("more than one value")
        if not told:
            base = self._bases.get("bv")
            return {} if base is None or "s" in record else {"v": base}
        (label,) = told
        if label == "v" and isinstance(record["v"], Decimal):
            return {"v": _sum(self._bases.get("bv", Decimal(0)), record["v"])}
        return {label: record[label]}


def _sum(base: object, own: object) -> Decimal:
    if not isinstance(base, Decimal) or not isinstance(own, Decimal):
        raise SenmlError("a number is wanted")
    try:
        return base + own
    except Overflow:
        return Decimal("Infinity")
    except ArithmeticError:
        return Decimal("NaN")
