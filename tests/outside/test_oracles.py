"""The library's statistics on random input against scipy, statsmodels and numpy."""

import math
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from scipy import stats
from statsmodels.api import OLS, add_constant
from statsmodels.stats.multitest import fdrcorrection
from statsmodels.tsa.stattools import acf, ccf

if TYPE_CHECKING:
    from tests.outside.conftest import House, Statistics

PAIRS = st.lists(st.tuples(st.floats(-1e3, 1e3), st.floats(-1e3, 1e3)), min_size=5, max_size=40).filter(
    lambda pairs: all(max(side) - min(side) > 1e-3 for side in zip(*pairs, strict=True))
)
SEEDS = st.integers(0, 2**32 - 1)


@settings(max_examples=30, deadline=None)
@given(t=st.floats(-40, 40), df=st.floats(0.5, 20000))
@example(t=8.488464852316047e-07, df=8192.0)
@example(t=1e-5, df=20000.0)
@example(t=1.0, df=0.5)
def test_student_t_agrees_with_scipy(statistics: "Statistics", t: float, df: float) -> None:
    assert statistics.ask("statistics.t_two_sided_p(?, ?)", t, df) == pytest.approx(
        2 * stats.t.sf(abs(t), df), rel=1e-8, abs=1e-300
    )


@pytest.mark.parametrize("df", [1, 2, 3, 4, 5, 7, 10, 30, 200, 10000])
def test_student_t_quantile_agrees_with_scipy(statistics: "Statistics", df: int) -> None:
    assert statistics.ask("statistics.t_quantile(?)", df) == pytest.approx(stats.t.ppf(0.975, df), rel=5e-4)


@settings(max_examples=30, deadline=None)
@given(p=st.floats(1e-14, 1))
def test_heights_of_the_normal_agree_with_scipy(statistics: "Statistics", p: float) -> None:
    height = stats.norm.isf(p / 2)
    assert statistics.ask("statistics.normal_height(?)", p) == pytest.approx(height, abs=6e-4)


@settings(max_examples=15, deadline=None)
@given(PAIRS)
def test_correlations_agree_with_scipy(statistics: "Statistics", pairs: list[tuple[float, float]]) -> None:
    xs, ys = [pair[0] for pair in pairs], [pair[1] for pair in pairs]
    r = stats.pearsonr(xs, ys)
    assert statistics.lags(xs, ys, 0)[0]["r"] == pytest.approx(r.statistic, abs=1e-9)
    assert statistics.lags(xs, ys, 0, "spearman")[0]["r"] == pytest.approx(
        stats.spearmanr(xs, ys).statistic, abs=1e-9
    )
    if abs(r.statistic) < 0.9999:
        expected = pytest.approx(r.pvalue, rel=1e-6)
        assert statistics.ask("statistics.correlation_p(?, ?)", r.statistic, len(xs)) == expected
        interval = r.confidence_interval()
        for end in ("low", "high"):
            found = statistics.ask(f"statistics.correlation_{end}(?, ?)", r.statistic, len(xs))
            assert found == pytest.approx(getattr(interval, end), abs=1e-9)


@settings(max_examples=15, deadline=None)
@given(SEEDS, st.floats(0, 0.5))
def test_memory_agrees_with_statsmodels_where_minutes_are_missing(
    statistics: "Statistics", seed: int, missing: float
) -> None:
    random = np.random.default_rng(seed)
    values = np.cumsum(random.standard_normal(60))
    values[random.random(60) < missing] = np.nan
    there = ~np.isnan(values)
    found = statistics.ask(
        "statistics.autocorrelation(?::double[])", [None if math.isnan(v) else v for v in values]
    )
    expected = acf(values, nlags=12, adjusted=False, missing="conservative", fft=False)
    assert len(found) == 13
    for lag, value in enumerate(found):
        # Each is divided by the root of the share of values that have a partner at that distance.
        partners = np.sum(there[: 60 - lag] & there[lag:])
        if partners:
            assert value * math.sqrt(partners / there.sum()) == pytest.approx(expected[lag], abs=1e-9)


@settings(max_examples=10, deadline=None)
@given(SEEDS)
def test_each_lag_agrees_with_statsmodels_once_both_are_standardised(
    statistics: "Statistics", seed: int
) -> None:
    # Its ccf(y, x)[k] pairs y[t + k] with x[t], by means and spreads of the whole series, divided by n; ours
    # pairs the same, by means and spreads of the pairs, which are those of the whole at lag 0.
    random = np.random.default_rng(seed)
    xs, ys = random.standard_normal((2, 400))
    expected = ccf(ys, xs, adjusted=False, fft=False)
    found = {row["lag_min"]: row["r"] for row in statistics.lags(xs.tolist(), ys.tolist(), 5)}
    assert found[0] == pytest.approx(expected[0], abs=1e-12)
    for lag in range(1, 6):
        assert found[lag] == pytest.approx(expected[lag], abs=0.02)


@settings(max_examples=15, deadline=None)
@given(st.lists(st.floats(0, 1), min_size=1, max_size=50))
def test_adjusted_probabilities_agree_with_scipy_and_statsmodels(
    statistics: "Statistics", ps: list[float]
) -> None:
    rows = statistics.rows('select bh, "by" from statistics.adjusted_p(ps := ?)', ps)
    assert [row[0] for row in rows] == pytest.approx(stats.false_discovery_control(ps), abs=1e-12)
    assert [row[1] for row in rows] == pytest.approx(
        stats.false_discovery_control(ps, method="by"), abs=1e-12
    )
    assert [row[0] for row in rows] == pytest.approx(fdrcorrection(ps)[1], abs=1e-12)


@settings(max_examples=15, deadline=None)
@given(st.lists(st.floats(-1e3, 1e3), min_size=3, max_size=40))
def test_spread_agrees_with_scipy(statistics: "Statistics", values: list[float]) -> None:
    expected = stats.median_abs_deviation(values, scale="normal")
    found = statistics.ask(
        "(select statistics.robust_spread(v, ?) from (select unnest(?::double[]) as v))",
        float(np.median(values)),
        values,
    )
    if expected > 1e-9:
        assert found == pytest.approx(expected, rel=1e-6)
    else:
        assert found is None or found > 0


@pytest.mark.parametrize("given_two", [False, True])
def test_partial_agrees_with_regressions_of_statsmodels(house: "House", given_two: bool) -> None:
    random = np.random.default_rng(3)
    x, y, z, w = random.standard_normal((4, 300))
    x, y = x + 2 * z - w, 0.3 * x + y - z + w
    for measure, values in zip("xyzw", (x, y, z, w), strict=True):
        house.put("pit", measure, values)
    house.furnish()
    others = add_constant(np.column_stack([z, w] if given_two else [z]))
    expected = stats.pearsonr(OLS(x, others).fit().resid, OLS(y, others).fit().resid).statistic
    rows = house.ask(
        "select r, r_partial, n from correlation.partial("
        "measure_a := 'x', measure_b := 'y', given_1 := 'z', given_2 := ?)",
        ["w" if given_two else None],
    )
    plain = stats.pearsonr(x, y).statistic
    assert rows == [(pytest.approx(plain, abs=1e-9), pytest.approx(expected, abs=1e-9), 300)]


@pytest.mark.parametrize("memory", [0.0, 0.5, 0.9, 0.99])
@pytest.mark.parametrize("lags", [5, 61])
def test_neighbouring_lags_are_worth_as_many_as_in_a_long_simulation(
    statistics: "Statistics", memory: float, lags: int
) -> None:
    # 20,000 normal series of numpy with the covariances that Bartlett's formula gives two such memories.
    memories = memory ** np.arange(2000)
    whole = np.concatenate([memories[:0:-1], memories])
    alike = np.convolve(whole, whole)[2 * 1999 :][: 2 * lags + 31]
    covariance = alike[np.abs(np.subtract.outer(np.arange(lags), np.arange(lags)))] / alike[0]
    drawn = np.random.default_rng(5).multivariate_normal(np.zeros(lags), covariance, 20_000, method="eigh")
    highest = np.abs(drawn).max(axis=1)
    answer = statistics.rows(
        "select pow(10, -step / 4), separate_lags from statistics.separate_lags("
        "alikeness := (select statistics.lag_alikeness(?, ?, ?)), lags := ?) where step in (4, 6, 8, 12)",
        memories.tolist(),
        memories.tolist(),
        2 * lags + 30,
        lags,
    )
    assert len(answer) == 4
    for p, separate_lags in answer:
        simulated = float(np.mean(highest >= stats.norm.isf(p / 2)))
        error = 4 * math.sqrt(simulated / 20_000) + 0.1 * simulated
        assert p * separate_lags == pytest.approx(simulated, abs=error)


@pytest.mark.parametrize("lags", [1, 2, 20])
def test_lags_are_worth_one_at_least_and_no_more_than_they_are(statistics: "Statistics", lags: int) -> None:
    ((least, most),) = statistics.rows(
        "select min(separate_lags), max(separate_lags) from statistics.separate_lags("
        "alikeness := list_concat([1, 0.5, 0.2], list_transform(range(70), lambda _: 0.0)), lags := ?)",
        lags,
    )
    assert least == pytest.approx(1, abs=1e-9)
    assert 1 <= most <= lags + 1e-9
