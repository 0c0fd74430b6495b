"""fleet.clocks against linear programming: the highest line below all arrivals, and a register that is wrong.

Moon, Skelly and Towsley (INFOCOM 1999) state the line as a linear programme, which scipy solves here. The
cases worked by hand are in test_published_views.py.
"""

from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np
import pyarrow as pa
import pytest
from scipy.optimize import linprog

if TYPE_CHECKING:
    from tests.outside.conftest import House, Series

BURSTS = 540
TRUE_PERIOD_S = 20.004


def arrive(seed: int) -> "Series":
    """Seconds at which three hours of bursts arrive: 0.4 s late on the average, and 2 % of them 2 to 9 s."""
    random = np.random.default_rng(seed)
    late = random.exponential(0.4, BURSTS)
    late += np.where(random.random(BURSTS) < 0.02, random.uniform(2, 9, BURSTS), 0)
    arrivals: Series = np.round(1 + TRUE_PERIOD_S * np.arange(BURSTS) + late, 3)
    return arrivals


def deliver(house: "House", arrivals: "Series", period_s: float) -> None:
    house.warehouse.execute("update campaign set burst_period_s = 20")
    house.warehouse.execute(
        "insert into mote by name select 'M1' as mote, 'N1' as network, 'a' as kit, $1 as burst_period_s",
        [period_s],
    )
    house.warehouse.register("arrival", pa.table({"seq": np.arange(len(arrivals)), "s": arrivals}))
    house.warehouse.execute(
        "insert into burst by name select seq as burst, 'M1' as mote, 0 as boot, seq,"
        " $1::timestamptz + to_microseconds((s * 1e6)::bigint) as received_at, received_at as sampled_at,"
        " 'fitted' as time_quality, 0.0 as delay_s, 0 as batch from arrival",
        [house.starts_at],
    )


@pytest.mark.parametrize("seed", range(5))
def test_the_line_is_all_but_the_optimum_of_the_linear_programme(house: "House", seed: int) -> None:
    arrivals, numbers = arrive(seed), np.arange(BURSTS)
    deliver(house, arrivals, period_s=20)
    best = linprog(
        [-BURSTS, -numbers.sum()], np.column_stack([np.ones(BURSTS), numbers]), arrivals, bounds=(None, None)
    )
    [(line_starts_at, period_s)] = house.ask("select line_starts_at, period_s from fleet.clocks()")
    # The view looks at the earliest of each 64th part only.
    assert (line_starts_at - house.starts_at) / timedelta(seconds=1) == pytest.approx(best.x[0], abs=0.01)
    assert period_s == pytest.approx(best.x[1], abs=1e-6 * TRUE_PERIOD_S)


@pytest.mark.parametrize(("period_s", "is_wrong"), [(20, True), (TRUE_PERIOD_S, False)])
def test_a_wrong_period_in_the_register_is_told(house: "House", period_s: float, is_wrong: bool) -> None:
    # 200 ppm, of which drift_ppm allows 100; found to 2 ppm although bursts arrive up to 9 s late.
    deliver(house, arrive(seed=77), period_s)
    [(drift_ppm, is_beyond_limit)] = house.ask("select drift_ppm, is_beyond_limit from fleet.clocks()")
    assert is_beyond_limit is is_wrong
    assert drift_ppm == pytest.approx((TRUE_PERIOD_S / period_s - 1) * 1e6, abs=2)
