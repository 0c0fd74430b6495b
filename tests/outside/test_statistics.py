"""The library's statistics against published values and independent libraries.

Files in standards/ hold: NIST StRD Norris (certified values), Anscombe 1973, Benjamini and Hochberg 1995, a
lag case and a partial correlation computed with pandas and pingouin, moist air by WMO-No. 8 and libraries.
"""

import csv
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from motelake.engine import open_engine
from motelake.library import read_library, statements, table_statements

VALUES = Path(__file__).parent / "standards"
LIBRARY = read_library()
CONNECTION = open_engine()
for statement in [*table_statements(LIBRARY), *statements(LIBRARY)]:
    CONNECTION.execute(statement)


def rows_of(name: str) -> list[dict[str, str]]:
    with (VALUES / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def columns_of(name: str, *columns: str) -> list[list[float]]:
    rows = rows_of(name)
    return [[float(row[column]) for row in rows] for column in columns]


def ask(expression: str, *values: Any) -> Any:
    row = CONNECTION.execute(f"select {expression}", list(values)).fetchone()
    assert row is not None
    return row[0]


def lag_rows(xs: list[float], ys: list[float], lag: int, method: str = "pearson") -> list[dict[str, Any]]:
    answer = CONNECTION.execute(
        "select * from statistics.cross_correlation("
        "minutes_a := ?, values_a := ?, minutes_b := ?, values_b := ?, max_lag_min := ?, by_method := ?)",
        [list(range(len(xs))), xs, list(range(len(ys))), ys, lag, method],
    )
    names = [column[0] for column in answer.description or []]
    return [dict(zip(names, row, strict=True)) for row in answer.fetchall()]


def correlation(xs: list[float], ys: list[float]) -> float | None:
    row = CONNECTION.execute(
        "select statistics.correlation(x, y)"
        " from (select unnest(?::double[]) as x, unnest(?::double[]) as y)",
        [xs, ys],
    ).fetchone()
    assert row is not None
    value: float | None = row[0]
    return value


def test_norris_has_its_certified_correlation() -> None:
    # NIST StRD Norris: certified R^2 0.999993745883712.
    xs, ys = columns_of("nist_norris", "x", "y")
    r = correlation(xs, ys)
    assert r is not None
    assert r * r == pytest.approx(0.999993745883712, rel=1e-9)


@pytest.mark.parametrize(
    ("name", "r", "p", "interval", "rho"),
    [  # Anscombe 1973; p, Fisher interval and Spearman by scipy.
        ("I", 0.8164205163, 0.00216963, (0.424391, 0.950693), 0.8181818182),
        ("II", 0.8162365060, 0.00217882, (0.423939, 0.950640), 0.6909090909),
        ("III", 0.8162867395, 0.00217631, (0.424062, 0.950655), 0.9909090909),
        ("IV", 0.8165214369, 0.00216460, (0.424639, 0.950722), 0.5),
    ],
)
def test_anscombe_sets(name: str, r: float, p: float, interval: tuple[float, float], rho: float) -> None:
    rows = [row for row in rows_of("anscombe") if row["set"] == name]
    xs, ys = [float(row["x"]) for row in rows], [float(row["y"]) for row in rows]
    (pearson,) = lag_rows(xs, ys, 0)
    (spearman,) = lag_rows(xs, ys, 0, "spearman")
    assert pearson["r"] == pytest.approx(r, abs=1e-9)
    assert spearman["r"] == pytest.approx(rho, abs=1e-9)
    assert ask("statistics.correlation_p(?, 11)", r) == pytest.approx(p, rel=1e-5)
    assert ask("statistics.correlation_low(?, 11)", r) == pytest.approx(interval[0], abs=1e-6)
    assert ask("statistics.correlation_high(?, 11)", r) == pytest.approx(interval[1], abs=1e-6)


def test_ties_share_their_rank() -> None:
    # scipy.stats.spearmanr
    (row,) = lag_rows([1, 2, 2, 3, 5], [2, 1, 4, 3, 5], 0, "spearman")
    assert row["r"] == pytest.approx(0.6668859, abs=1e-7)


def test_each_lag_of_the_lag_case() -> None:
    xs, ys = columns_of("lag_case", "x", "y")
    expected = {
        int(row["lag_k_x_leads_y_by_k"]): float(row["pairwise_pearson"])
        for row in rows_of("lag_case_expected")
    }
    got = {row["lag_min"]: row["r"] for row in lag_rows(xs, ys, 4)}
    assert got == {lag: pytest.approx(r, abs=1e-9) for lag, r in expected.items()}


def test_a_coupling_is_found_at_its_lag_and_independence_is_left_alone() -> None:
    # Series of 360 values with memory 0.95: b has nothing to do with a, c follows a by six steps. Naively r
    # of a and b has p 0.0099; Bretherton's effective number is 23.9; circular shifts give p 0.475.
    a, b, c = columns_of("circular_shift_series", "a", "b_independent", "c_coupled_lag6")
    apart = {row["lag_min"]: row for row in lag_rows(a, b, 30)}
    assert apart[0]["r"] == pytest.approx(-0.13577362808969373, abs=1e-12)
    assert apart[0]["n_effective"] == pytest.approx(23.88, rel=0.3)
    assert apart[0]["p"] == pytest.approx(0.475, abs=0.03)
    assert min(row["p_scan"] for row in apart.values()) > 0.5
    (best,) = [row for row in lag_rows(a, c, 30) if row["is_best"]]
    assert best["lag_min"] == 6
    assert best["p_scan"] < 0.05


def test_benjamini_and_hochberg_in_their_own_example() -> None:
    ps, bh, by = columns_of("bh1995", "p", "bh_adjusted", "by_adjusted")
    rows = CONNECTION.execute('select bh, "by" from statistics.adjusted_p(ps := ?)', [ps]).fetchall()
    assert [row[0] for row in rows] == [pytest.approx(value, abs=1e-8) for value in bh]
    assert [row[1] for row in rows] == [pytest.approx(value, abs=1e-8) for value in by]
    assert sum(row[0] <= 0.05 for row in rows) == 4


def test_partial_correlation_turns_its_sign() -> None:
    # pingouin: r 0.8578567832, given z -0.8484159576.
    xs, ys, zs = columns_of("partial_corr_case", "x", "y", "z")
    row = CONNECTION.execute(
        "select statistics.correlation(a, b) from"
        " (select statistics.residual(x, z) as a, statistics.residual(y, z) as b from"
        " (select unnest(?::double[]) as x, unnest(?::double[]) as y, unnest(?::double[]) as z))",
        [xs, ys, zs],
    ).fetchone()
    assert row == (pytest.approx(-0.8484159576, abs=1e-9),)


@pytest.mark.parametrize(
    "case", rows_of("moist_air_cases"), ids=lambda row: f"{row['t_C']} C {row['rh_pct']} %"
)
def test_moist_air(case: dict[str, str]) -> None:
    air = float(case["t_C"]), float(case["rh_pct"])
    dew_point = ask("air.dew_point_c(?, ?)", *air)
    assert ask("air.vapour_pressure_hpa(?, ?)", *air) == pytest.approx(float(case["e_hPa_wmo"]), abs=1e-4)
    assert dew_point == pytest.approx(float(case["td_C_wmo"]), abs=1e-4)
    assert ask("air.absolute_humidity_g_m3(?, ?)", *air) == pytest.approx(
        float(case["abs_humidity_g_m3_wmo"]), abs=2e-3
    )
    if dew_point > 0:
        assert dew_point == pytest.approx(float(case["td_psychrolib"]), abs=0.05)


@pytest.mark.parametrize(
    ("levels", "mean"),
    [  # acoustic-toolbox and the definition in ISO 1996-1; dBm means are means of power.
        ([35, 40, 45], 41.740119),
        ([60, 60], 60.0),
        ([90, 60], 86.994041),
        ([55, 60, 65, 70], 65.586637),
        ([-50, -70], -52.967086),
        ([100] + [70] * 59, 82.467447),
    ],
)
def test_decibels_are_averaged_as_energy(levels: list[float], mean: float) -> None:
    assert ask(
        "(select statistics.mean_of_kind('decibel', v) from (select unnest(?::double[]) as v))", levels
    ) == pytest.approx(mean, abs=1e-5)


@pytest.mark.parametrize(
    ("values", "spread"),
    [  # NIST/SEMATECH e-Handbook 1.3.5.17.1 (uranium, MAD 0.995); where MAD is 0 the mean deviation, here 1.
        ([199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57], 0.995 * 1.4826022185),
        ([20, 20, 20, 20, 20, 26], 1.2533141373),
    ],
)
def test_robust_spread(values: list[float], spread: float) -> None:
    assert ask(
        "(select statistics.robust_spread(v, (select median(w) from (select unnest(?::double[]) as w)))"
        " from (select unnest(?::double[]) as v))",
        values,
        values,
    ) == pytest.approx(spread, rel=1e-8)


@settings(max_examples=30, deadline=None)
@given(t=st.floats(-40, 40), df=st.floats(0.5, 20000))
def test_student_t_agrees_with_scipy(t: float, df: float) -> None:
    assert ask("statistics.t_two_sided_p(?, ?)", t, df) == pytest.approx(
        2 * stats.t.sf(abs(t), df), rel=1e-8, abs=1e-300
    )


@pytest.mark.parametrize("df", [1, 2, 3, 4, 5, 7, 10, 30, 200, 10000])
def test_student_t_quantile_agrees_with_scipy(df: int) -> None:
    assert ask("statistics.t_quantile(?)", df) == pytest.approx(stats.t.ppf(0.975, df), rel=5e-4)


@pytest.mark.parametrize("memory", [0.0, 0.5, 0.9, 0.99])
@pytest.mark.parametrize("lags", [5, 61])
def test_neighbouring_lags_are_worth_as_many_as_in_a_long_simulation(memory: float, lags: int) -> None:
    # 20,000 normal series of numpy with the covariances that Bartlett's formula gives two such memories.
    memories = memory ** np.arange(2000)
    whole = np.concatenate([memories[:0:-1], memories])
    alike = np.convolve(whole, whole)[2 * 1999 :][: 2 * lags + 31]
    covariance = alike[np.abs(np.subtract.outer(np.arange(lags), np.arange(lags)))] / alike[0]
    drawn = np.random.default_rng(5).multivariate_normal(np.zeros(lags), covariance, 20_000, method="eigh")
    highest = np.abs(drawn).max(axis=1)
    answer = CONNECTION.execute(
        "select pow(10, -step / 4), separate_lags from statistics.separate_lags("
        "alikeness := (select statistics.lag_alikeness(?, ?, ?)), lags := ?) where step in (4, 6, 8, 12)",
        [memories.tolist(), memories.tolist(), 2 * lags + 30, lags],
    ).fetchall()
    assert len(answer) == 4
    for p, separate_lags in answer:
        simulated = float(np.mean(highest >= stats.norm.isf(p / 2)))
        error = 4 * math.sqrt(simulated / 20_000) + 0.1 * simulated
        assert p * separate_lags == pytest.approx(simulated, abs=error)


@pytest.mark.parametrize("lags", [1, 2, 20])
def test_lags_are_worth_one_at_least_and_no_more_than_they_are(lags: int) -> None:
    answer = CONNECTION.execute(
        "select min(separate_lags), max(separate_lags) from statistics.separate_lags("
        "alikeness := list_concat([1, 0.5, 0.2], list_transform(range(70), lambda _: 0.0)), lags := ?)",
        [lags],
    ).fetchall()
    assert answer[0][0] == pytest.approx(1, abs=1e-9)
    assert 1 <= answer[0][1] <= lags + 1e-9


@settings(max_examples=15, deadline=None)
@given(
    st.lists(st.tuples(st.floats(-1e3, 1e3), st.floats(-1e3, 1e3)), min_size=5, max_size=40).filter(
        lambda pairs: all(max(side) - min(side) > 1e-3 for side in zip(*pairs, strict=True))
    )
)
def test_correlations_agree_with_scipy(pairs: list[tuple[float, float]]) -> None:
    xs, ys = [pair[0] for pair in pairs], [pair[1] for pair in pairs]
    assert lag_rows(xs, ys, 0)[0]["r"] == pytest.approx(stats.pearsonr(xs, ys).statistic, abs=1e-9)
    assert lag_rows(xs, ys, 0, "spearman")[0]["r"] == pytest.approx(
        stats.spearmanr(xs, ys).statistic, abs=1e-9
    )


@settings(max_examples=15, deadline=None)
@given(st.lists(st.floats(0, 1), min_size=1, max_size=50))
def test_adjusted_probabilities_agree_with_scipy(ps: list[float]) -> None:
    rows = CONNECTION.execute('select bh, "by" from statistics.adjusted_p(ps := ?)', [ps]).fetchall()
    assert [row[0] for row in rows] == [
        pytest.approx(v, abs=1e-12) for v in stats.false_discovery_control(ps)
    ]
    assert [row[1] for row in rows] == [
        pytest.approx(v, abs=1e-12) for v in stats.false_discovery_control(ps, method="by")
    ]


@pytest.mark.parametrize("constant", [0.0, 21.5, 1e9])
def test_a_constant_has_no_correlation_and_never_nan(constant: float) -> None:
    assert correlation([constant] * 10, [float(i) for i in range(10)]) is None


def test_correlation_stays_within_one() -> None:
    # DuckDB's own corr gives 1.0000061 here.
    r = correlation([1e9 + i * 1e-3 for i in range(10)], [float(i) for i in range(10)])
    assert r is not None
    assert math.fabs(r) <= 1
