"""The invented world obeys what it was invented from."""

import numpy as np
import pandas as pd
import pytest

from motelake.rehearsal import Plan, Report
from motelake.rehearsal.chance import follow
from motelake.rehearsal.depot_fair import imagine_depot_fair
from motelake.rehearsal.glasshouse import imagine_glasshouse
from motelake.rehearsal.venue import Scene
from motelake.rehearsal.weather import saturation_hpa


@pytest.fixture(scope="module")
def fair_scene() -> Scene:
    return imagine_depot_fair(Plan(motes=40, days=2, seed=8))


def rows_of(scene: Scene, **wanted: str) -> list[int]:
    return [
        row
        for row, zone in enumerate(scene.zones)
        if all(getattr(zone, name) == value for name, value in wanted.items())
    ]


def test_saturation_is_that_of_the_handbook() -> None:
    # WMO-No. 8, Annex 4.B gives 6.112 hPa at 0 Cel; 23.37 hPa at 20 Cel is what tables say; both from memory.
    told = saturation_hpa(np.array([0.0, 20.0]))
    assert told[0] == pytest.approx(6.112)
    assert told[1] == pytest.approx(23.37, rel=0.003)


def test_a_follower_has_gone_63_percent_of_the_way_after_its_time_constant() -> None:
    # First-order response, 1 - 1/e; from memory.
    target = np.ones((1, 61))
    target[0, 0] = 0
    assert follow(target, 20.0)[0, 20] == pytest.approx(1 - np.exp(-1))


def test_the_roof_has_less_pressure_than_the_pit(fair_scene: Scene) -> None:
    # ICAO standard atmosphere: 0.1201 hPa a metre at sea level; from memory.
    pressure = fair_scene.world["pressure"]
    drop = pressure[rows_of(fair_scene, level="pit")[0]] - pressure[rows_of(fair_scene, level="roof")[0]]
    assert drop == pytest.approx(11.7 * 0.1201, rel=0.01)


def test_people_are_where_the_concert_is_and_gone_at_night(fair_scene: Scene) -> None:
    assert fair_scene.people is not None
    stage = fair_scene.people[rows_of(fair_scene, kind="stage")[0]]
    concert = next(event for event in fair_scene.events if event.kind == "concert")
    begins = int(fair_scene.clock.second_of(concert.starts_at) // 60)
    assert stage[begins + 20] > 3 * stage[begins - 40]
    _, hour = fair_scene.clock.local()
    assert fair_scene.people[:, (hour > 2) & (hour < 6)].sum(axis=0).max() < 5


def test_a_storey_further_away_fills_later(fair_scene: Scene) -> None:
    people = fair_scene.people
    assert people is not None
    _, hour = fair_scene.clock.local()
    # Between opening and the first event the crowd only grows.
    early = slice(int(np.argmax(hour >= 8.95)), int(np.argmax(hour >= 9.75)))
    halves = {}
    for level in ("track", "gallery", "roof"):
        total = people[rows_of(fair_scene, level=level)].sum(axis=0)[early]
        halves[level] = int(np.argmax(total - total[0] > (total[-1] - total[0]) / 2))
    assert halves["track"] < halves["gallery"] < halves["roof"]


def test_air_indoors_follows_the_crowd_and_never_leads_it(fair: Report) -> None:
    lags = pd.read_csv(fair.truth / "lags.csv")
    gas = lags[(lags["follower"] == "air_quality") & ~lags["zone"].str.startswith("roof")]
    assert gas["lag_min"].between(4, 40).all()
    assert (gas["r"] > 0.6).all()


def test_loudness_of_a_concert_falls_from_storey_to_storey(fair_scene: Scene) -> None:
    concert = next(event for event in fair_scene.events if event.kind == "concert")
    middle = int(fair_scene.clock.second_of(concert.starts_at) // 60) + 20
    sound = fair_scene.world["sound"][:, middle]
    stage = sound[rows_of(fair_scene, kind="stage")[0]]
    same = max(sound[row] for row in rows_of(fair_scene, level="pit", kind="hall"))
    above = max(sound[row] for row in rows_of(fair_scene, level="gallery"))
    assert stage > same + 8
    assert same > above


def test_the_day_has_a_course_that_no_event_made(fair_scene: Scene) -> None:
    _, hour = fair_scene.clock.local()
    roof = fair_scene.world["temperature"][rows_of(fair_scene, level="roof")[0]]
    assert roof[(hour > 13) & (hour < 17)].mean() > roof[(hour > 2) & (hour < 6)].mean() + 5


def test_kinds_of_events_come_back_at_another_hour_of_the_other_day(fair_scene: Scene) -> None:
    local = [(event.kind, event.starts_at.date(), event.starts_at.time()) for event in fair_scene.events]
    for kind in ("concert", "talk", "workshop", "exchange"):
        days = {day: {at for what, on, at in local if what == kind and on == day} for _, day, _ in local}
        assert len(days) == 2
        first, second = days.values()
        assert first
        assert second
        assert not first & second


def test_watering_raises_soil_moisture_only_where_it_runs() -> None:
    scene = imagine_glasshouse(Plan(scene="glasshouse", motes=10, days=1))
    soil = scene.world["soil_moisture"]
    event = next(event for event in scene.events if event.kind == "irrigation")
    begins, ends = (int(scene.clock.second_of(at) // 60) for at in (event.starts_at, event.ends_at))
    rise = soil[:, ends + 20] - soil[:, begins]
    is_watered = np.array([zone.zone in event.zones for zone in scene.zones])
    assert rise[is_watered].min() > 5
    assert rise[~is_watered].max() < 0
