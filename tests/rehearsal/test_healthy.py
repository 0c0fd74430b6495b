"""What a healthy sensor says must look healthy: concerts begin, lamps are switched, gates open."""

import numpy as np
import pandas as pd
import pytest

from motelake.rehearsal import Faults, Plan, Report, rehearse


@pytest.fixture(scope="module", params=["depot_fair", "glasshouse"])
def healthy(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Report:
    plan = Plan(scene=request.param, motes=24, days=1, seed=17, faults=Faults.none())
    return rehearse(tmp_path_factory.mktemp("healthy") / "lake", plan=plan)


@pytest.fixture(scope="module")
def readings(healthy: Report) -> pd.DataFrame:
    raw = pd.concat(pd.read_json(path, lines=True) for path in sorted((healthy.lake / "raw").rglob("*.gz")))
    wide = pd.concat(
        [raw[["mote", "seq"]].reset_index(drop=True), pd.DataFrame(raw["readings"].tolist())], axis=1
    )
    long = wide.melt(["mote", "seq"], var_name="measure").dropna().sort_values(["measure", "mote", "seq"])
    measures = pd.read_csv(healthy.lake / "register" / "measures.csv")
    return long.merge(measures, on="measure")


def share_of_measures(readings: pd.DataFrame, is_odd: pd.Series) -> pd.Series:
    return is_odd.groupby(readings["measure"]).mean()


def test_readings_stay_where_the_place_can_be(readings: pd.DataFrame) -> None:
    is_unusual = (readings["value"] < readings["usual_low"]) | (readings["value"] > readings["usual_high"])
    assert share_of_measures(readings, is_unusual).max() < 0.0005


def test_steps_stay_credible(readings: pd.DataFrame) -> None:
    same = (readings["mote"] == readings["mote"].shift()) & (
        readings["measure"] == readings["measure"].shift()
    )
    step = readings["value"].diff().abs().where(same)
    assert share_of_measures(readings, step > readings["max_step"]).max() < 0.0005


def test_no_sensor_is_flat_for_long(readings: pd.DataFrame, healthy: Report) -> None:
    period_min = healthy_period_min(healthy)
    changed = (
        (readings["value"] != readings["value"].shift())
        | (readings["mote"] != readings["mote"].shift())
        | (readings["measure"] != readings["measure"].shift())
    )
    length = changed.groupby(np.cumsum(changed)).transform("size")
    assert not (length * period_min > 0.7 * readings["flat_after_min"]).any()


def healthy_period_min(healthy: Report) -> float:
    text = (healthy.lake / "campaign.toml").read_text()
    return float(text.split("burst_period_s = ")[1].split("\n")[0]) / 60


def test_every_measure_is_sent_by_somebody(readings: pd.DataFrame, healthy: Report) -> None:
    measures = pd.read_csv(healthy.lake / "register" / "measures.csv")
    assert set(readings["measure"]) == set(measures["measure"])
