"""The library's statistics against published values.

Files in standards/ hold: NIST StRD Norris (certified values), Anscombe 1973, Benjamini and Hochberg 1995, the
cross-correlation reference that statsmodels tests itself with, a lag case and a partial correlation computed
with pandas and pingouin, moist air by WMO-No. 8 and libraries, levels of ISO 1996-1.
"""

import csv
import math
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from tests.outside.conftest import Statistics

VALUES = Path(__file__).parent / "standards"


def rows_of(name: str) -> list[dict[str, str]]:
    with (VALUES / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def columns_of(name: str, *columns: str) -> list[list[float]]:
    rows = rows_of(name)
    return [[float(row[column]) for row in rows] for column in columns]


def test_norris_has_its_certified_correlation(statistics: "Statistics") -> None:
    # NIST StRD Norris: certified R^2 0.999993745883712.
    xs, ys = columns_of("nist_norris", "x", "y")
    r = statistics.correlation(xs, ys)
    assert r is not None
    assert r * r == pytest.approx(0.999993745883712, rel=1e-9)


def test_what_a_line_leaves_of_norris_has_its_certified_spread(statistics: "Statistics") -> None:
    # NIST StRD Norris: certified residual standard deviation 0.884796396144373, 34 degrees of freedom.
    xs, ys = columns_of("nist_norris", "x", "y")
    ((squares,),) = statistics.rows(
        "select sum(rest ** 2) from (select statistics.residual(y, x) as rest"
        " from (select unnest(?::double[]) as x, unnest(?::double[]) as y))",
        xs,
        ys,
    )
    assert math.sqrt(squares / 34) == pytest.approx(0.884796396144373, rel=1e-9)


@pytest.mark.parametrize(
    ("name", "r", "p_and_interval", "rho"),
    [  # Anscombe 1973; p, Fisher interval and Spearman by scipy.
        ("I", 0.8164205163, (0.00216963, 0.424391, 0.950693), 0.8181818182),
        ("II", 0.8162365060, (0.00217882, 0.423939, 0.950640), 0.6909090909),
        ("III", 0.8162867395, (0.00217631, 0.424062, 0.950655), 0.9909090909),
        ("IV", 0.8165214369, (0.00216460, 0.424639, 0.950722), 0.5),
    ],
)
def test_anscombe_sets(
    statistics: "Statistics", name: str, r: float, p_and_interval: tuple[float, float, float], rho: float
) -> None:
    rows = [row for row in rows_of("anscombe") if row["set"] == name]
    xs, ys = [float(row["x"]) for row in rows], [float(row["y"]) for row in rows]
    (pearson,) = statistics.lags(xs, ys, 0)
    (spearman,) = statistics.lags(xs, ys, 0, "spearman")
    assert pearson["r"] == pytest.approx(r, abs=1e-9)
    assert spearman["r"] == pytest.approx(rho, abs=1e-9)
    for figure, value in zip(("p", "low", "high"), p_and_interval, strict=True):
        assert statistics.ask(f"statistics.correlation_{figure}(?, 11)", r) == pytest.approx(value, abs=1e-6)


def test_ties_share_their_rank(statistics: "Statistics") -> None:
    # scipy.stats.spearmanr
    (row,) = statistics.lags([1, 2, 2, 3, 5], [2, 1, 4, 3, 5], 0, "spearman")
    assert row["r"] == pytest.approx(0.6668859, abs=1e-7)


def test_each_lag_of_the_lag_case(statistics: "Statistics") -> None:
    xs, ys = columns_of("lag_case", "x", "y")
    expected = {
        int(row["lag_k_x_leads_y_by_k"]): float(row["pairwise_pearson"])
        for row in rows_of("lag_case_expected")
    }
    got = {row["lag_min"]: row["r"] for row in statistics.lags(xs, ys, 4)}
    assert got == {lag: pytest.approx(r, abs=1e-9) for lag, r in expected.items()}


def test_a_coupling_is_found_at_its_lag_and_independence_is_left_alone(statistics: "Statistics") -> None:
    # Series of 360 values with memory 0.95: b has nothing to do with a, c follows a by six steps. Naively r
    # of a and b has p 0.0099; Bretherton's effective number is 23.9; circular shifts give p 0.475.
    a, b, c = columns_of("circular_shift_series", "a", "b_independent", "c_coupled_lag6")
    apart = {row["lag_min"]: row for row in statistics.lags(a, b, 30)}
    assert apart[0]["r"] == pytest.approx(-0.13577362808969373, abs=1e-12)
    assert apart[0]["n_effective"] == pytest.approx(23.88, rel=0.3)
    assert apart[0]["p"] == pytest.approx(0.475, abs=0.03)
    assert min(row["p_scan"] for row in apart.values()) > 0.5
    (best,) = [row for row in statistics.lags(a, c, 30) if row["is_best"]]
    assert best["lag_min"] == 6
    assert best["p_scan"] < 0.05


def test_quarters_of_unemployment_and_inflation_have_the_reference_cross_correlations(
    statistics: "Statistics",
) -> None:
    # The reference at k pairs unemployment at t + k with inflation at t (so that leads), by means and spreads
    # of the whole series, divided by n; ours takes those of the pairs, which are the same at lag 0.
    unemployment, inflation = columns_of("ccf_reference_macrodata", "d_unemp", "d_infl")
    reference = [float(row["ref_ccf_lag_i"]) for row in rows_of("ccf_reference_macrodata")[:20]]
    rows = statistics.lags(inflation, unemployment, 19)
    found = {row["lag_min"]: row["r"] for row in rows}
    assert found[0] == pytest.approx(reference[0], abs=1e-12)
    for lag in range(1, 20):
        assert found[lag] == pytest.approx(reference[lag], abs=0.03)


@pytest.mark.parametrize(
    ("r", "n", "interval"),
    [  # Fisher's z by hand, standard error 1 / sqrt(n - 3).
        (0.816, 11, (0.423358, 0.950572)),
        (0.5, 30, (0.170431, 0.728959)),
        (-0.3, 50, (-0.533775, -0.023625)),
        (0.9, 20, (0.760272, 0.960131)),
    ],
)
def test_intervals_of_fisher(
    statistics: "Statistics", r: float, n: int, interval: tuple[float, float]
) -> None:
    for end, value in zip(("low", "high"), interval, strict=True):
        assert statistics.ask(f"statistics.correlation_{end}(?, ?)", r, n) == pytest.approx(value, abs=1e-6)


@pytest.mark.parametrize(
    ("n", "first", "second", "effective"),
    [  # Pyper and Peterman's sum to n / 5 for two memories, and Bretherton's whole sum beside it.
        (100, 0.5, 0.5, 60.3217),
        (100, 0.9, 0.9, 11.1317),
        (180, 0.8, 0.0, 180),
        (180, 0.8, -0.5, 180),
    ],
)
def test_effective_numbers(
    statistics: "Statistics", n: int, first: float, second: float, effective: float
) -> None:
    memories = [
        [memory**lag * math.sqrt((n - lag) / n) for lag in range(n // 5 + 1)] for memory in (first, second)
    ]
    share = statistics.ask("statistics.effective_share(?::double[], ?::double[])", *memories)
    assert n * share == pytest.approx(effective, abs=1e-3)


@pytest.mark.parametrize(("r", "effective", "p"), [(0.3, 18.8950, 0.21353), (0.5, 21.9512, 0.01795)])
def test_p_of_an_effective_number(statistics: "Statistics", r: float, effective: float, p: float) -> None:
    assert statistics.ask("statistics.correlation_p(?, ?)", r, effective) == pytest.approx(p, abs=1e-5)


def test_benjamini_and_hochberg_in_their_own_example(statistics: "Statistics") -> None:
    ps, bh, by = columns_of("bh1995", "p", "bh_adjusted", "by_adjusted")
    rows = statistics.rows('select bh, "by" from statistics.adjusted_p(ps := ?)', ps)
    assert [row[0] for row in rows] == [pytest.approx(value, abs=1e-8) for value in bh]
    assert [row[1] for row in rows] == [pytest.approx(value, abs=1e-8) for value in by]
    assert sum(row[0] <= 0.05 for row in rows) == 4


def test_partial_correlation_turns_its_sign(statistics: "Statistics") -> None:
    # pingouin: r 0.8578567832, given z -0.8484159576.
    xs, ys, zs = columns_of("partial_corr_case", "x", "y", "z")
    rows = statistics.rows(
        "select statistics.correlation(a, b) from"
        " (select statistics.residual(x, z) as a, statistics.residual(y, z) as b from"
        " (select unnest(?::double[]) as x, unnest(?::double[]) as y, unnest(?::double[]) as z))",
        xs,
        ys,
        zs,
    )
    assert rows == [(pytest.approx(-0.8484159576, abs=1e-9),)]


@pytest.mark.parametrize(
    "case", rows_of("moist_air_cases"), ids=lambda row: f"{row['t_C']} C {row['rh_pct']} %"
)
def test_moist_air(statistics: "Statistics", case: dict[str, str]) -> None:
    air = float(case["t_C"]), float(case["rh_pct"])
    dew_point = statistics.ask("air.dew_point_c(?, ?)", *air)
    assert statistics.ask("air.vapour_pressure_hpa(?, ?)", *air) == pytest.approx(
        float(case["e_hPa_wmo"]), abs=1e-4
    )
    assert dew_point == pytest.approx(float(case["td_C_wmo"]), abs=1e-4)
    assert statistics.ask("air.absolute_humidity_g_m3(?, ?)", *air) == pytest.approx(
        float(case["abs_humidity_g_m3_wmo"]), abs=2e-3
    )
    if dew_point > 0:
        assert dew_point == pytest.approx(float(case["td_psychrolib"]), abs=0.05)


@pytest.mark.parametrize("case", rows_of("sat_vapour_pressure_hPa"), ids=lambda row: f"{row['t_C']} C")
def test_saturated_air(statistics: "Statistics", case: dict[str, str]) -> None:
    # The same formula to its printed digits; Bolton, Hyland and Wexler and the steam tables within 0.5 %.
    temperature = float(case.pop("t_C"))
    found = statistics.ask("air.vapour_pressure_hpa(?, 100)", temperature)
    assert found == pytest.approx(float(case.pop("wmo8_magnus")), abs=1e-4)
    for value in filter(None, case.values()):
        assert found == pytest.approx(float(value), rel=5e-3)
    assert statistics.ask("air.dew_point_c(?, 100)", temperature) == pytest.approx(temperature, abs=1e-9)


# acoustic-toolbox and the definition in ISO 1996-1; dBm means are means of power.
MEANS = [row for row in rows_of("sound_cases") if row["case"].startswith(("mean ", "dBm mean ", "Leq 55"))]
# Differences and day-evening-night levels are nothing that the library takes.
SUMS = [
    row
    for row in rows_of("sound_cases")
    if row["case"].startswith(("sum ", "dBm sum ")) and "+" in row["case"]
]


@pytest.mark.parametrize("case", MEANS, ids=lambda row: row["case"])
def test_decibels_are_averaged_as_energy(statistics: "Statistics", case: dict[str, str]) -> None:
    levels = [float(level) for level in case["case"].split(" ")[-1].split(",")]
    assert energy_mean(statistics, levels) == pytest.approx(float(case["expected_dB"]), abs=1e-5)


def test_a_minute_of_noise_in_an_hour_is_averaged_as_energy(statistics: "Statistics") -> None:
    (hour,) = [row for row in rows_of("sound_cases") if row["case"].startswith("Leq 1 min at 100")]
    assert energy_mean(statistics, [100.0] + [70.0] * 59) == pytest.approx(
        float(hour["expected_dB"]), abs=1e-5
    )


@pytest.mark.parametrize("case", SUMS, ids=lambda row: row["case"])
def test_a_sum_of_levels_is_their_energy_mean_as_often_as_there_are_levels(
    statistics: "Statistics", case: dict[str, str]
) -> None:
    levels = [float(level) for level in case["case"].split(" ")[-1].split("+")]
    found = energy_mean(statistics, levels) + 10 * math.log10(len(levels))
    assert found == pytest.approx(float(case["expected_dB"]), abs=1e-4)


def energy_mean(statistics: "Statistics", levels: list[float]) -> float:
    return float(
        statistics.ask(
            "(select statistics.mean_of_kind('decibel', v) from (select unnest(?::double[]) as v))", levels
        )
    )


@pytest.mark.parametrize(
    ("values", "spread"),
    [  # NIST/SEMATECH e-Handbook 1.3.5.17.1 (uranium, MAD 0.995); where MAD is 0 the mean deviation, here 1.
        ([199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57], 0.995 * 1.4826022185),
        ([20, 20, 20, 20, 20, 26], 1.2533141373),
    ],
)
def test_robust_spread(statistics: "Statistics", values: list[float], spread: float) -> None:
    assert statistics.ask(
        "(select statistics.robust_spread(v, (select median(w) from (select unnest(?::double[]) as w)))"
        " from (select unnest(?::double[]) as v))",
        values,
        values,
    ) == pytest.approx(spread, rel=1e-8)


def test_a_value_far_from_its_group_has_the_handbooks_score(statistics: "Statistics") -> None:
    # NIST/SEMATECH 1.3.5.17.1: modified z of the last value 29.9627; no plain z of eight passes 2.4749.
    values = [199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57]
    spread = statistics.ask(
        "(select statistics.robust_spread(v, 201.37) from (select unnest(?::double[]) as v))", values
    )
    assert (values[-1] - 201.37) / spread == pytest.approx(29.9627, abs=1e-3)


@pytest.mark.parametrize("constant", [0.0, 21.5, 1e9])
def test_a_constant_has_no_correlation_and_never_nan(statistics: "Statistics", constant: float) -> None:
    assert statistics.correlation([constant] * 10, [float(i) for i in range(10)]) is None


def test_correlation_stays_within_one(statistics: "Statistics") -> None:
    # DuckDB's own corr gives 1.0000061 here.
    r = statistics.correlation([1e9 + i * 1e-3 for i in range(10)], [float(i) for i in range(10)])
    assert r is not None
    assert math.fabs(r) <= 1
