"""How often the statistics cry wolf on series without coupling, and whether they find what was planted.

Series are first-order autoregressive, made with fixed seeds. The naive test, which takes minutes for
independent, finds half of such pairs "significant" at memory 0.9.
"""

from datetime import UTC, datetime, timedelta

import duckdb
import numpy as np
import pyarrow as pa
import pytest
from numpy.typing import NDArray
from scipy.signal import lfilter

START = datetime(2031, 5, 9, tzinfo=UTC)
Series = NDArray[np.float64]


def remembering(random: np.random.Generator, memory: float, length: int) -> Series:
    """A series of unit variance that keeps `memory` of its value from minute to minute."""
    made: Series = lfilter([1], [1, -memory], random.standard_normal(length + 600))[600:]
    made *= np.sqrt(1 - memory**2)
    return made


@pytest.fixture
def house(warehouse: duckdb.DuckDBPyConnection) -> duckdb.DuckDBPyConnection:
    warehouse.execute(
        "insert into campaign by name"
        " select 'x' as title, 'UTC' as time_zone, $1 as starts_at, $2 as ends_at,"
        " 60.0 as burst_period_s, 100.0 as drift_ppm",
        [START, START + timedelta(days=4)],
    )
    return warehouse


def put(
    house: duckdb.DuckDBPyConnection, zone: str, measure: str, values: Series, mote: str | None = None
) -> None:
    """One mote in a zone whose minutes are the values; NaN is a missing minute."""
    minutes = pa.table({"number": np.arange(len(values)), "value": values})
    house.register("minutes", minutes)
    house.execute(
        "insert into mote_minute by name select $1 as mote, $2 as zone, $3 as measure,"
        " $4::timestamptz + to_minutes(number::integer) as minute_at,"
        " 1 as n, 0 as left_out, 60.0 as covered_s, value"
        " from minutes where not isnan(value)",
        [mote or f"in-{zone}", zone, measure, START],
    )


def furnish(house: duckdb.DuckDBPyConnection) -> None:
    """The register and the references that go with the minutes."""
    house.execute("insert into measure by name select distinct measure, 'level' as kind from mote_minute")
    house.execute("insert into zone by name select distinct zone, 'low' as level from mote_minute")
    house.execute(
        "insert into mote_reference by name"
        " select mote, measure, $1::timestamptz as from_at, median(value) as value"
        " from mote_minute group by mote, measure",
        [START],
    )


@pytest.mark.parametrize(("memory", "missing"), [(0.5, 0.0), (0.95, 0.0), (0.9, 0.2)])
def test_independent_series_are_rarely_called_related(
    house: duckdb.DuckDBPyConnection, memory: float, missing: float
) -> None:
    random, length, pairs = np.random.default_rng(20310509), 360, 80
    for zone in range(pairs):
        for measure in "ab":
            values = remembering(random, memory, length)
            values[random.random(length) < missing] = np.nan
            put(house, f"zone-{zone}", measure, values)
    furnish(house)
    false_at_one_lag = false_over_all = 0
    for zone in range(pairs):
        rows = house.execute(
            "select lag_min, p, p_scan"
            " from correlation.lagged(measure_a := 'a', measure_b := 'b', zone := ?)",
            [f"zone-{zone}"],
        ).fetchall()
        false_at_one_lag += next(p for lag, p, _ in rows if lag == 0) < 0.05
        false_over_all += min(p_scan for _, _, p_scan in rows) < 0.05
        assert all(p_scan >= p for _, p, p_scan in rows)
    # 99.9 % of runs of 80 at a true rate of 0.05 stay below 0.14.
    assert false_at_one_lag / pairs < 0.14
    assert false_over_all / pairs < 0.14


def test_screening_200_independent_series_finds_nothing(house: duckdb.DuckDBPyConnection) -> None:
    random = np.random.default_rng(1)
    for zone in range(40):
        for measure in "abcde":
            put(house, f"zone-{zone}", measure, remembering(random, 0.9, 2880))
    furnish(house)
    rows = house.execute("select p, q_bh from correlation.screen()").fetchall()
    assert 0.02 < np.mean([p < 0.05 for p, _ in rows]) < 0.08
    assert not [q for _, q in rows if q <= 0.05]


def test_screening_finds_planted_pairs_with_their_lag(house: duckdb.DuckDBPyConnection) -> None:
    random = np.random.default_rng(9)
    for zone in range(20):
        first = remembering(random, 0.9, 2880)
        put(house, f"zone-{zone}", "a", first)
        second = remembering(random, 0.9, 2880)
        if zone < 6:
            second = 0.8 * np.concatenate([np.zeros(20), first[:-20]]) + 0.6 * second
        put(house, f"zone-{zone}", "b", second)
    furnish(house)
    found = house.execute("select place_a, lag_min from correlation.screen() where q_bh <= 0.05").fetchall()
    planted = {(f"zone-{zone}", 20) for zone in range(6)}
    assert planted <= set(found)
    assert len(found) <= 7


def test_a_planted_lag_is_found_with_its_sign(house: duckdb.DuckDBPyConnection) -> None:
    random = np.random.default_rng(5)
    cause = remembering(random, 0.9, 2880)
    put(house, "pit", "a", cause)
    put(house, "pit", "b", -np.concatenate([np.zeros(13), cause[:-13]]) + remembering(random, 0.9, 2880))
    furnish(house)
    rows = house.execute(
        "select lag_min, r < 0, p_scan < 0.001"
        " from correlation.lagged(measure_a := 'a', measure_b := 'b') where is_best"
    ).fetchall()
    assert rows == [(13, True, True)]


def test_two_series_that_share_only_the_day_come_out_as_nothing(house: duckdb.DuckDBPyConnection) -> None:
    random = np.random.default_rng(6)
    day = np.sqrt(2) * np.sin(2 * np.pi * np.arange(4 * 1440) / 1440)
    for measure in "ab":
        put(house, "pit", measure, day + np.sqrt(0.5) * remembering(random, 0.5, 4 * 1440))
    furnish(house)
    question = (
        "select r, p from correlation.lagged("
        "measure_a := 'a', measure_b := 'b', max_lag_min := 0, remove_cycle := ?)"
    )
    ((r_with, _),) = house.execute(question, [False]).fetchall()
    ((r_without, p_without),) = house.execute(question, [True]).fetchall()
    assert r_with == pytest.approx(2 / 3, abs=0.05)
    assert abs(r_without) < 0.05
    assert p_without > 0.05


def test_a_planted_shift_is_found_within_five_minutes_and_calm_zones_show_none(
    house: duckdb.DuckDBPyConnection,
) -> None:
    random = np.random.default_rng(7)
    for zone in range(30):
        values = remembering(random, 0.95, 1440)
        if zone < 10:
            values[500 + 7 * zone :] += 8
        put(house, f"zone-{zone}", "a", values)
    furnish(house)
    rows = house.execute(
        'select zone, "at" from change.shifts()'
        " qualify row_number() over (partition by zone order by abs(score) desc) = 1"
    ).fetchall()
    found = {zone: (at - START) / timedelta(minutes=1) for zone, at in rows}
    assert set(found) <= {f"zone-{zone}" for zone in range(10)}
    assert len(found) >= 9
    assert all(abs(at - (500 + 7 * int(zone.removeprefix("zone-")))) <= 5 for zone, at in found.items())


def test_a_mote_with_an_offset_that_drops_out_makes_no_shift(house: duckdb.DuckDBPyConnection) -> None:
    random = np.random.default_rng(8)
    field = 0.1 * remembering(random, 0.5, 1440)
    for number, offset in enumerate([0.0, 0.0, 9.0]):
        values = field + offset + 0.05 * random.standard_normal(1440)
        if offset:
            values[700:] = np.nan
        put(house, "pit", "a", values, mote=f"M{number}")
    furnish(house)
    assert house.execute("select count(*) from change.shifts()").fetchall() == [(0,)]
