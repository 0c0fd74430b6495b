"""The examples of RFC 8428 and cases made from its rules; see outside/standards/senml_vectors.md."""

import json
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from motelake.formats.senml import Pack, SenmlError

VECTORS = Path(__file__).parents[1] / "outside" / "standards" / "senml_vectors.json"
CASES = json.loads(VECTORS.read_text(), parse_int=Decimal, parse_float=Decimal)["cases"]


def resolve_pack(records: list[dict[str, Any]], now: Decimal) -> list[dict[str, Any]]:
    """All records of a pack resolved, in order of time (RFC 8428, 4.6)."""
    pack = Pack()
    resolved: list[dict[str, Any]] = [
        one for record in records if (one := pack.resolve(record, now)) is not None
    ]
    return sorted(resolved, key=lambda one: one["t"])


@pytest.mark.parametrize("case", CASES, ids=[case["id"] for case in CASES])
def test_a_pack_resolves_as_the_standard_says(case: dict[str, Any]) -> None:
    if "error" in case:
        with pytest.raises(SenmlError, match=case["error"]):
            resolve_pack(case["pack"], case["now"])
    else:
        assert resolve_pack(case["pack"], case["now"]) == case["resolved"]


def test_all_vectors_are_there() -> None:
    assert len(CASES) == 26


def test_a_relative_time_without_now_has_no_time() -> None:
    resolved = Pack().resolve({"n": "m1:t", "t": Decimal(-20), "v": Decimal(1)}, now=None)
    assert resolved == {"n": "m1:t", "t": None, "v": Decimal(1)}


@pytest.mark.parametrize("number", ["1E+999999", "-1E+999999", "NaN", "Infinity", "1E-999999"])
def test_numbers_no_double_holds_do_not_break_a_sum(number: str) -> None:
    record = {"n": "m1:t", "bt": Decimal(number), "t": Decimal(1), "bv": Decimal(number), "v": Decimal(1)}
    assert Pack().resolve(record, now=None) is not None
