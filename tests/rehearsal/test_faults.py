"""The faults of the trade are as large as the plan says, and the truth names each."""

import pandas as pd
import pytest

from motelake.rehearsal import Report


@pytest.fixture(scope="session")
def bursts(fair: Report) -> pd.DataFrame:
    return pd.read_parquet(fair.truth / "bursts.parquet")


def spans(incidents: pd.DataFrame, kind: str) -> list[tuple[str, pd.Timestamp, pd.Timestamp]]:
    """Who met a kind of incident, from when, to when."""
    found = incidents[incidents["kind"] == kind]
    assert len(found), f"this seed has no {kind}"
    times = ([pd.Timestamp(at) for at in found[name].tolist()] for name in ("from_at", "to_at"))
    return list(zip(found["subject"].astype(str).tolist(), *times, strict=True))


def test_one_burst_in_twenty_is_lost_in_clusters(bursts: pd.DataFrame) -> None:
    is_lost = bursts["fate"] == "lost_by_radio"
    assert is_lost.mean() == pytest.approx(0.05, abs=0.005)
    follows = (bursts["mote"] == bursts["mote"].shift()) & (bursts["boot"] == bursts["boot"].shift())
    after_lost = is_lost[follows & is_lost.shift(fill_value=False)]
    assert after_lost.mean() > 0.5  # independent losses would give 0.05


def test_delays_are_mostly_short_and_sometimes_long(heard: pd.DataFrame, bursts: pd.DataFrame) -> None:
    alone = bursts.drop_duplicates(["mote", "seq"], keep=False)
    once = alone[(alone["hearings"] == 1) & ~alone["is_flushed"]]
    both = heard.merge(once, on=["mote", "seq"])
    delay = (both["received_at"] - both["sampled_at"]).dt.total_seconds()
    # Exponential of mean 0.4 s: median 0.4 ln 2; beyond 2 s lie exp(-5) and the slow 2 %.
    assert delay.median() == pytest.approx(0.4 * 0.693 * 1.02, abs=0.02)
    assert (delay > 2).mean() == pytest.approx(0.0067 + 0.02, abs=0.004)
    assert delay.max() < 9 + 8


def test_some_bursts_are_heard_twice(heard: pd.DataFrame, bursts: pd.DataFrame) -> None:
    assert (bursts["hearings"] > 1).mean() == pytest.approx(0.03, abs=0.01)
    gateways = heard.groupby(["mote", "seq"])["gateway"].nunique()
    assert (gateways > 1).sum() > 500


def test_a_restart_begins_again_at_zero(fair: Report, bursts: pd.DataFrame) -> None:
    boots = pd.read_csv(fair.truth / "boots.csv")
    assert (boots["cause"] == "restart").sum() >= 8
    later = bursts[bursts["boot"] > 0].groupby(["mote", "boot"])["seq"].min()
    assert (later == 0).all()
    assert (bursts[bursts["boot"] == 0].groupby("mote")["seq"].min().drop("M0041") > 0).all()


def test_clocks_stray_by_no_more_than_fifty_ppm(fair: Report) -> None:
    boots = pd.read_csv(fair.truth / "boots.csv")
    ppm = (boots["true_period_s"] / 30 - 1) * 1e6
    assert ppm.abs().max() <= 50.001
    assert ppm.abs().max() > 30
    assert boots.assign(ppm=ppm).groupby("mote")["ppm"].agg(lambda own: own.max() - own.min()).max() < 10


def test_a_dead_gateway_silences_its_network(
    fair: Report, heard: pd.DataFrame, incidents: pd.DataFrame
) -> None:
    motes = pd.read_csv(fair.truth / "motes.csv").set_index("mote")["network"]
    network = heard["mote"].map(motes)
    for gateway, from_at, to_at in spans(incidents, "gateway_dead"):
        within = (heard["received_at"] >= from_at) & (heard["received_at"] < to_at)
        is_own = network == gateway.replace("G", "N")
        assert not (within & is_own).any()
        assert (within & ~is_own).sum() > 100


def test_a_flush_arrives_forty_minutes_late_within_a_second(
    heard: pd.DataFrame, incidents: pd.DataFrame, bursts: pd.DataFrame
) -> None:
    second = pd.Timedelta(seconds=1)
    for gateway, from_at, to_at in spans(incidents, "gateway_flush"):
        own = heard[heard["gateway"] == gateway]
        at = own["received_at"]
        assert not ((at >= from_at) & (at < to_at)).any()
        at_once = own[(at >= to_at + second) & (at < to_at + 2 * second)]
        assert len(at_once) > 400
        told = at_once.merge(bursts[bursts["is_flushed"]], on=["mote", "seq"])
        assert (told["received_at"] - told["sampled_at"]).max() > pd.Timedelta(minutes=39)


def test_a_mote_restarts_while_its_gateway_stores(fair: Report, incidents: pd.DataFrame) -> None:
    motes = pd.read_csv(fair.truth / "motes.csv").set_index("mote")["network"]
    restarts = spans(incidents, "restart")
    for gateway, from_at, to_at in spans(incidents, "gateway_flush"):
        within = [mote for mote, at, _ in restarts if from_at < at < to_at]
        assert any(motes[mote] == gateway.replace("G", "N") for mote in within)


def test_faulty_readings_are_faulty_as_told(fair: Report) -> None:
    faulty = pd.read_parquet(fair.truth / "faulty_readings.parquet")
    measures = pd.read_csv(fair.lake / "register" / "measures.csv").set_index("measure")
    spikes = faulty[faulty["fault"] == "spiking"]
    assert (
        (spikes["sent"] - spikes["healthy"]).abs() >= 3 * spikes["measure"].map(measures["max_step"])
    ).all()
    stuck = faulty[faulty["fault"] == "stuck"]
    flat_after_s = 60 * stuck["measure"].map(measures["flat_after_min"])
    runs = stuck.assign(flat_after_s=flat_after_s).groupby(["mote", "measure"])
    lasted_s = (runs["sampled_at"].max() - runs["sampled_at"].min()).dt.total_seconds()
    assert (runs["sent"].nunique() == 1).all()
    assert (lasted_s > 2 * runs["flat_after_s"].first()).all()
    beyond = faulty[faulty["fault"] == "out_of_span"]
    low, high = beyond["measure"].map(measures["span_low"]), beyond["measure"].map(measures["span_high"])
    assert ((beyond["sent"] < low) | (beyond["sent"] > high)).all()
    assert len(spikes)
    assert len(stuck)
    assert len(beyond)


def test_what_the_crew_noted_is_in_the_register(fair: Report, incidents: pd.DataFrame) -> None:
    placements = pd.read_csv(fair.lake / "register" / "placements.csv")
    noted = incidents[
        incidents["is_noted"] & incidents["kind"].isin(["moved", "removed", "found", "planned_only"])
    ]
    assert set(placements["mote"]) == set(noted["subject"])
    unseen = incidents[~incidents["is_noted"] & incidents["kind"].isin(["moved", "misregistered", "shut_in"])]
    assert len(unseen)
    assert not set(unseen["subject"]) & set(placements["mote"])
