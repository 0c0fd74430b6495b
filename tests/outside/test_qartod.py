"""Flags against those of a reference library, case by case, and where we differ, why.

Each case of standards/qartod_vectors.json is one mote with one measure, a burst every 20 s. A missing value
has no reading, which is what 9 stands for. Our tests are fewer: one threshold max_step for spikes (fail) and
steps (suspect), one time flat_after_min for flat runs (suspect). Where bursts were lost, as distinct from a
value missing in one that was heard, a spike is still judged (tests/warehouse/test_flags.py), a step is not.
"""

import json
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pyarrow as pa
import pytest

from motelake.core.campaign import Campaign, Limits
from motelake.core.register import Measure, Mote, Register
from motelake.engine import open_engine
from motelake.warehouse.bursts import Moved
from motelake.warehouse.derive import derive
from motelake.warehouse.hearings import shape_hearings
from motelake.warehouse.register import write_register
from motelake.warehouse.store import make_tables

START = datetime(2031, 5, 9, 9, tzinfo=UTC)
VECTORS = json.loads((Path(__file__).parent / "standards" / "qartod_vectors.json").read_text())
CASES: dict[str, dict[str, Any]] = {case["id"]: case for case in VECTORS["cases"]}


@dataclass(frozen=True)
class Ours:
    """The limits of a measure, and our flags where they are not the library's."""

    limits: dict[str, float]
    flags: list[int] | None = None


WIDE = {"span_low": -40.0, "span_high": 85.0}
SAME = {
    "Q01": Ours({**WIDE, "usual_low": -20.0, "usual_high": 60.0}),
    "Q03": Ours({"span_low": 0.0, "span_high": 100.0}),
    # Both bounds belong to the span.
    "Q06": Ours(WIDE),
    "Q27": Ours({**WIDE, "flat_after_min": 1.0}),
}
# The sentence says what we decided, the flags are ours.
DIFFERENT = {
    "a bound belongs to the span on both sides": {"Q05": Ours(WIDE, [1, 1, 1, 1])},
    "a spike is up and down again by more than max_step each way, so its neighbours are good; there is one "
    "threshold, a spike fails; a last burst was judged by the step before it": {
        "Q07": Ours({"max_step": 2.5}, [2, 1, 4, 1, 1, 1, 4, 1, 1]),
        "Q11": Ours({"max_step": 2.5}, [2, 1, 4, 1, 1, 1, 4, 1, 1]),
    },
    "a threshold just reached passes, as in the library": {
        "Q08": Ours({"max_step": 2.5}, [2, 1, 1, 1, 1, 4, 1]),
    },
    "beside a missing value a jump is no spike but a step; after one, nothing is evaluated": {
        "Q09": Ours({"max_step": 5.0}, [2, 1, 3, 9, 2, 4, 1, 1, 9, 9, 2]),
    },
    "a jump that stays is a step where it begins and where it ends, and nothing between": {
        "Q10": Ours({"max_step": 5.0}, [2, 1, 3, 1, 3, 1]),
        "Q13": Ours({"max_step": 5.0}, [2, 1, 3, 1, 3, 1]),
    },
    "a ramp steeper than max_step is many steps, since max_step is the largest credible one": {
        "Q12": Ours({"max_step": 1.0}, [2, 3, 3, 3, 3, 3]),
    },
    "the last burst may be a step, and becomes a spike if the next one falls back": {
        "Q14": Ours({"max_step": 5.0}, [2, 1, 3]),
        "Q15": Ours({"max_step": 5.0}, [2, 3]),
    },
    "a threshold of nought is a threshold, only an empty one switches a test off": {
        "Q16": Ours({"max_step": 0.0}, [2, 4, 1]),
    },
    "steps have one level, suspect; a first burst and one after a missing value are not evaluated": {
        "Q17": Ours({"max_step": 0.4}, [2, 1, 3, 3, 1, 9, 2, 3]),
        "Q18": Ours({"max_step": 2.0}, [2, 1, 3, 3]),
    },
    "steps are judged burst by burst, whatever the seconds between": {
        "Q19": Ours({"max_step": 0.05}, [2, 3, 3, 3]),
        "Q20": Ours({"max_step": 0.05}, [2, 3, 3]),
        "Q21": Ours({"max_step": 1.0}, [2, 1, 1]),
    },
    "a flat run is flagged whole, from its first reading on, at one level": {
        "Q23": Ours({**WIDE, "flat_after_min": 1.0}, [3] * 8 + [1, 1]),
    },
    "exact repeats are flat, as in the manual, where the library's tolerance 0 never flags": {
        "Q24": Ours({**WIDE, "flat_after_min": 1.0}, [3] * 8),
    },
    "only exact repeats are flat: a sensor that still moves in its last digit is alive": {
        "Q25": Ours({**WIDE, "flat_after_min": 1.0}, [1] * 10),
    },
    "a missing value does not end a flat run": {
        "Q26": Ours({**WIDE, "flat_after_min": 1.0}, [3, 3, 3, 9, 3, 3, 3, 3]),
    },
    "a gap of more than ten periods and of the flat time ends a flat run": {
        "Q28": Ours({**WIDE, "flat_after_min": 1.0}, [1] * 6),
    },
}
# An infinity is refused at staging and a span with its ends swapped by the register (Q02, Q04); bursts stand
# in order of time (Q22); gaps, late delivery and repeats are told of motes and gateways, not of readings (Q33
# to Q37); a sensor that only moves less is no fault in a quiet room (Q29 to Q32); the worst of several tests
# wins (Q38, tested beside the warehouse's own flags).
NOT_OURS = {"Q02", "Q04", "Q22", *(f"Q{number}" for number in range(29, 39))}
JUDGED = {name: ours for group in (SAME, *DIFFERENT.values()) for name, ours in group.items()}


@pytest.fixture(scope="module")
def flags() -> dict[str, list[int]]:
    """Our flags of every case, all in one warehouse."""
    measures = tuple(_measure(name.lower(), ours.limits) for name, ours in JUDGED.items())
    motes = tuple(_mote(name, f"{name.lower()}+pulse") for name in JUDGED)
    campaign = Campaign(
        title="vectors",
        time_zone="UTC",
        starts_at=START,
        ends_at=START + timedelta(days=1),
        burst_period_s=20.0,
        drift_ppm=100.0,
        levels={},
        baseline=None,
        open_hours=None,
        limits=Limits(),
        register=Register(motes, (), (), (*measures, _measure("pulse", {})), ()),
        programme=(),
        streams=(),
        context=(),
    )
    engine = open_engine(threads=1)
    make_tables(engine)
    write_register(engine, campaign)
    shape_hearings(engine, [measure.measure for measure in campaign.register.measures])
    engine.register("bursts", pa.Table.from_pylist([row for name in JUDGED for row in _hearings(name)]))
    engine.execute("insert into work.hearing by name select * from bursts")
    derive(engine, campaign, list(JUDGED), Moved(), lambda _: None)
    found = engine.execute(
        "select burst.mote, list(coalesce(flag, 9) order by burst.seq) from burst "
        "left join reading on reading.burst = burst.burst and reading.measure <> 'pulse' group by burst.mote"
    ).fetchall()
    return dict(found)


def _measure(name: str, limits: dict[str, float]) -> Measure:
    names = ("span_low", "span_high", "usual_low", "usual_high", "max_step", "flat_after_min")
    return Measure(name, None, "1", "level", None, *(limits.get(key) for key in names))


def _mote(name: str, kit: str) -> Mote:
    return Mote(name, None, kit, None, None, None, None, None, None, None, None)


def _hearings(name: str) -> list[dict[str, Any]]:
    case = CASES[name]
    values = case["input"]
    times = case.get("time_s", range(0, 20 * len(values), 20))
    # What lies closer together than a burst period is numbered all the same: our steps go by seq.
    is_gapped = name == "Q28"
    return [
        {
            "object": name,
            "line": position,
            "mote": name,
            "seq": time_s // 20 if is_gapped else position,
            "received_at": START + timedelta(seconds=time_s if is_gapped else 20 * position),
            "batch": 1,
            "reading_pulse": 1.0,
            **{f"reading_{other.lower()}": value if other == name else None for other in JUDGED},
        }
        for position, (value, time_s) in enumerate(zip(values, times, strict=True), start=0)
    ]


@pytest.mark.parametrize("name", SAME)
def test_our_flags_are_the_librarys(flags: dict[str, list[int]], name: str) -> None:
    assert flags[name] == CASES[name]["expected_flags"]


@pytest.mark.parametrize(
    ("decision", "name"), [(decision, name) for decision, group in DIFFERENT.items() for name in group]
)
def test_where_our_flags_differ_it_was_decided(flags: dict[str, list[int]], decision: str, name: str) -> None:
    assert flags[name] == DIFFERENT[decision][name].flags, decision
    assert flags[name] != CASES[name]["expected_flags"], "no decision is needed where we agree"


@pytest.mark.parametrize(("name", "max_step", "level"), [("Q11", 2.5, 3), ("Q11", 5.0, 4), ("Q12", 5.0, 4)])
def test_our_spikes_are_those_of_the_librarys_differential_test(
    name: str, max_step: float, level: int
) -> None:
    """At either of its two thresholds: a value is a spike here where the library flags that level there."""
    values = CASES[name]["input"]
    engine = open_engine(threads=1)
    for statement in (Path(__file__).parents[2] / "sql/derive/00_words.sql").read_text().split(";\n"):
        engine.execute(statement)
    found = [
        engine.execute("select is_spike($1, $2, $3, $4, $4)", [before, value, after, max_step]).fetchall()[0][
            0
        ]
        for before, value, after in zip(values, values[1:], values[2:], strict=False)
    ]
    assert found == [flag >= level and flag != 9 for flag in CASES[name]["expected_flags"][1:-1]]


def test_every_vector_is_judged_or_left_out_for_a_reason() -> None:
    assert {*JUDGED, *NOT_OURS} == set(CASES)
