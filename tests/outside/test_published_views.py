"""Questions of the library put to published data whose answer is known, or to textbook formulas.

Files in standards/: CUSUM and EWMA examples of the NIST/SEMATECH e-Handbook (6.3.2.3 and 6.3.2.4), a circular
shift test enumerated by its definition, the ICAO standard atmosphere, the highest line below arrivals.
"""

import json
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from scipy.signal import lfilter

if TYPE_CHECKING:
    from tests.outside.conftest import House

Columns = Callable[..., list[list[float]]]
ENVELOPES = json.loads((Path(__file__).parent / "standards" / "lower_envelope_cases.json").read_text())


@pytest.mark.parametrize("window_groups", [3, 4])
def test_the_shift_that_the_handbooks_cusum_signals_at_group_14_began_at_group_13(
    house: "House", columns_of: Columns, window_groups: int
) -> None:
    # Target 325, k 0.3175, h 4.1959: groups 1 to 12 are on target, the sum passes h at group 14.
    groups, upper = columns_of("cusum_nist_6_3_2_3", "x", "S_hi")
    assert next(number for number, value in enumerate(upper, 1) if value > 4.1959) == 14
    house.put("pit", "a", np.repeat(groups, 5))
    house.furnish()
    rows = house.ask('select "at", size from change.shifts(window_min := ?)', [5 * window_groups])
    assert [(at - house.starts_at) / timedelta(minutes=5) + 1 for at, _ in rows] == [13]
    assert rows[0][1] == pytest.approx(np.mean(groups[12:]) - np.mean(groups[:12]), abs=0.3)


@pytest.mark.parametrize("window_groups", [3, 4, 6])
def test_the_process_that_the_handbooks_ewma_holds_in_control_shows_no_shift(
    house: "House", columns_of: Columns, window_groups: int
) -> None:
    # Limits 52.5884 and 47.4115: no average leaves them, though the last ones climb.
    groups, averages = columns_of("ewma_nist_6_3_2_4", "x", "ewma")
    assert max(averages) < 52.5884
    assert min(averages) > 47.4115
    house.put("pit", "a", np.repeat(groups, 5))
    house.furnish()
    assert house.ask("select * from change.shifts(window_min := ?)", [5 * window_groups]) == []


def test_one_pair_screened_at_one_lag_has_the_p_of_all_its_circular_shifts(
    house: "House", columns_of: Columns
) -> None:
    # By definition: 171 of all 360 turns, the one by 0 included, correlate at least as well: p 0.475.
    a, b = columns_of("circular_shift_series", "a", "b_independent")
    house.put("pit", "a", np.array(a))
    house.put("pit", "b", np.array(b))
    house.furnish()
    rows = house.ask("select r, lag_min, p from correlation.screen(max_lag_min := 0, every_min := 1)")
    assert rows == [(pytest.approx(-0.13577362808969373, abs=1e-12), 0, pytest.approx(0.475, abs=1e-12))]


@pytest.mark.parametrize(("height_m", "towards"), [(3, "up"), (10, "up"), (-100, "down")])
def test_a_mote_carried_to_another_storey_shows_the_pressure_of_the_standard_atmosphere(
    house: "House", columns_of: Columns, height_m: float, towards: str
) -> None:
    pressures = dict(zip(*columns_of("isa_pressure", "H_m_geopotential", "p_hPa_formula"), strict=True))
    random = np.random.default_rng(2)
    weather = 0.05 * np.sin(np.arange(1440) / 200)
    for number in range(4):
        values = pressures[0] + weather + number + 0.005 * random.standard_normal(1440)
        if number == 0:
            values[700:] += pressures[height_m] - pressures[0]
        house.put("pit", "weight", values, mote=f"M{number}")
    house.furnish(roles={"weight": "air_pressure"})
    house.warehouse.execute("update measure set unit = 'hPa'")
    house.warehouse.execute("insert into level values ('high', 3.0)")
    ((mote, evidence),) = house.ask("select mote, evidence from fleet.misplaced()")
    assert mote == "M0"
    moved_m, direction = evidence.removeprefix("pressure: moved ").split(" m ")[:2]
    assert direction.startswith(towards)
    # The rule of 0.118 hPa a metre is that of air at 20 C; the standard atmosphere's is at 15 C.
    assert float(moved_m) == pytest.approx(abs(height_m), rel=0.05)


def test_the_air_of_a_room_lags_its_crowd_as_a_single_zone_does(house: "House") -> None:
    # Mass balance V dC/dt = G + Q (outside - C), air changed three times an hour: a crowd of 90 in 240 min
    # fits best 14 min later with r 0.9376, at once with 0.8017 (instants by formula; here means of minutes).
    crowd = np.tile(np.repeat([0.0, 1.0], [150, 90]), 12)
    kept_in_a_second = np.exp(-1 / 20 / 60)
    air = lfilter([1 - kept_in_a_second], [1, -kept_in_a_second], np.repeat(crowd, 60))
    for measure, values in (("crowd", crowd), ("air", air.reshape(-1, 60).mean(axis=1))):
        house.put("hall", measure, values)
    house.furnish()
    rows: list[tuple[int, float, bool]] = house.ask(
        "select lag_min, r, is_best from correlation.lagged("
        "measure_a := 'crowd', measure_b := 'air', remove_cycle := false)"
    )
    assert [lag for lag, _, is_best in rows if is_best] == [14]
    r_at = {lag: r for lag, r, _ in rows}
    assert r_at[14] == pytest.approx(0.9376, abs=0.005)
    assert r_at[0] == pytest.approx(0.8017, abs=0.02)


@pytest.mark.parametrize("case", ENVELOPES["cases"], ids=lambda case: f"case {case['id']}")
def test_a_clock_is_the_highest_line_below_its_arrivals(house: "House", case: dict[str, Any]) -> None:
    # Convex hull and linear programming agree on these to the millisecond.
    start = datetime(2031, 5, 9, tzinfo=UTC)
    house.warehouse.execute("update campaign set burst_period_s = 20")
    house.warehouse.execute("insert into mote by name select 'M1' as mote, 'N1' as network, 'a' as kit")
    for seq, arrival in zip(case.get("k") or case["k_expected"], case["arrival"], strict=True):
        house.warehouse.execute(
            "insert into burst by name select $1 as burst, 'M1' as mote, 0 as boot, $1 as seq,"
            " $2 as received_at, $2 as sampled_at, 'fitted' as time_quality, 0.0 as delay_s, 0 as batch",
            [seq, start + timedelta(milliseconds=arrival)],
        )
    rows = house.ask("select line_starts_at, period_s from fleet.clocks(bursts_least := 3)")
    alpha, beta = (float(str(case[name])) for name in ("alpha", "beta"))
    assert len(rows) == 1
    assert (rows[0][0] - start) / timedelta(milliseconds=1) == pytest.approx(alpha, abs=0.01)
    assert rows[0][1] == pytest.approx(beta / 1000, abs=1e-6)
