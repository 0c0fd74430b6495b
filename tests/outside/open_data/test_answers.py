"""What the library answers on published measurements.

A room's air, light, sound and motion beside its count of people; a building's thirty events. The data, and
what is taken for what they leave open, are told in test_room.py and test_building.py, which send them through
the whole main job; here their minutes are put in directly. Nobody has published these answers; asserted is
what follows from how rooms and buildings work, in signs, order and rough sizes.
"""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
import pytest

if TYPE_CHECKING:
    from tests.outside.conftest import House

ROOM = "uci_room_occupancy_estimation/Occupancy_Estimation.csv"
COUNTS, EVENTS = "calit2/CalIt2.data.csv", "calit2/CalIt2.events.csv"
MEASURES = {
    "Temp": "temperature",
    "Light": "light",
    "Sound": "sound",
    "CO2": "co2",
    "PIR": "motion",
    "Occupancy_Count": "occupancy",
}
MINUTE = pd.Timedelta(minutes=1)


def in_time(house: "House", zone: str, starts_at: Any, ends_at: Any) -> "House":
    """The house with a campaign of that time and place."""
    house.warehouse.execute(
        "update campaign set time_zone = $1, starts_at = $2, ends_at = $3",
        [zone, starts_at.to_pydatetime(), ends_at.to_pydatetime()],
    )
    return replace(house, starts_at=starts_at.to_pydatetime())


@pytest.fixture
def room(house: "House", find_data: Callable[[str], Path]) -> "House":
    """Six days of minutes in three weeks: seven nodes, and the people in the room."""
    table = pd.read_csv(find_data(ROOM))
    local = pd.to_datetime(table["Date"] + " " + table["Time"])
    at = local.dt.tz_localize("Asia/Kolkata").dt.tz_convert("UTC").dt.floor("min")
    minutes = table.drop(columns=["Date", "Time"]).groupby(at).mean()
    every = pd.date_range(pd.Timestamp("2017-12-22T00:00Z"), minutes.index[-1], freq="min")
    house = in_time(house, "Asia/Kolkata", every[0], every[-1])
    for column in minutes:
        mote, _, quantity = str(column).partition("_")
        if quantity in MEASURES:
            house.put("room", MEASURES[quantity], minutes[column].reindex(every).to_numpy(), mote=mote)
    house.furnish(roles={"occupancy": "crowd"})
    return house


@pytest.fixture
def building(house: "House", find_data: Callable[[str], Path]) -> "House":
    """Fifteen weeks of people through a door, half hours spread over their minutes, and thirty events."""
    table = pd.read_csv(find_data(COUNTS))
    stamp = pd.to_datetime(table["date"] + " " + table["time_stamp"], format="%m/%d/%y %H:%M:%S")
    zone = "America/Los_Angeles"
    at = stamp.dt.tz_localize(zone, ambiguous=np.full(len(stamp), True)).dt.tz_convert("UTC")
    start = at.min() - 30 * MINUTE
    house = in_time(house, zone, start, at.max())
    number = ((at - start) / MINUTE).astype(int)
    for flow, rows in table.assign(number=number).groupby("flow"):
        people = np.full(number.max(), np.nan)
        for last, count in zip(rows["number"], rows["count"], strict=True):
            people[last - 30 : last] = count / 30
        house.put("door", "people", people, mote=f"flow-{flow}")
    for index, event in pd.read_csv(find_data(EVENTS)).iterrows():
        first, last = (
            int((pd.Timestamp(f"{event['date']} {event[column]}", tz=zone) - start) / MINUTE)
            for column in ("time_start", "time_end")
        )
        kind = str(event["occurence"]).partition(";")[0].strip()
        house.happen(f"E{index:02}", "door", first, last, kind=kind)
    house.furnish(kind="count", roles={"people": "crowd"})
    return house


@pytest.mark.parametrize(
    ("measure", "longest_lag_min", "lags", "r_least"),
    [
        ("light", 30, (-2, 2), 0.75),
        ("motion", 30, (-2, 2), 0.6),
        ("sound", 30, (-2, 3), 0.5),
        ("co2", 90, (20, 90), 0.7),
        ("temperature", 90, (15, 90), 0.6),
    ],
)
def test_light_sound_and_motion_follow_people_at_once_air_and_warmth_later(
    room: "House", measure: str, longest_lag_min: int, lags: tuple[int, int], r_least: float
) -> None:
    ((lag, r, n, n_effective, low, p_scan),) = room.ask(
        "select lag_min, r, n, n_effective, low, p_scan from correlation.lagged("
        "measure_a := 'occupancy', measure_b := ?, max_lag_min := ?) where is_best",
        [measure, longest_lag_min],
    )
    assert lags[0] <= lag <= lags[1]
    assert r > r_least
    assert low > 0
    assert p_scan < 0.05
    # Five thousand minutes of people who stay for hours are worth a few dozen at most.
    assert n > 4900
    assert n_effective < 60


def test_what_follows_people_does_so_on_each_day_with_people(room: "House") -> None:
    for measure in ("light", "motion", "sound", "co2", "temperature"):
        rows = room.ask(
            "select r, has_same_sign from correlation.over_time("
            "measure_a := 'occupancy', measure_b := ?, every_min := 1440)",
            [measure],
        )
        with_people = [row for row in rows if row[0] is not None]
        # On 25 December nobody came, and a count that does not change goes with nothing.
        assert len(rows) == len(with_people) + 1 == 4
        assert all(has_same_sign and r > 0.4 for r, has_same_sign in with_people)


def test_air_says_more_of_people_than_the_light_they_switch_on(room: "House") -> None:
    ((r, r_partial, low),) = room.ask(
        "select r, r_partial, low from correlation.partial("
        "measure_a := 'occupancy', measure_b := 'co2', given_1 := 'light', lag_min := 30)"
    )
    assert 0 < low < r_partial < r


def test_no_single_node_carries_the_light(room: "House") -> None:
    rows = room.ask(
        "select mote, carries_the_result from correlation.by_mote("
        "measure_a := 'occupancy', measure_b := 'light')"
    )
    assert dict(rows) == {
        "Room": True,
        **{f"S{node}": False for node in range(1, 5)},
    }


def test_events_of_the_building_rank_by_kind_as_their_ratios_do(building: "House") -> None:
    # People per event half hour over the same weekday and time: 1.23, 1.47 and 2.59 for kinds 10, 20 and 30.
    rows = building.ask(
        "select rank, kind, effect, p, matched_by from event_window.ranking(before_min := 0) order by rank"
    )
    assert len(rows) == 30
    assert {matched_by for *_, matched_by in rows} == {"same weekday and time"}
    effects: dict[str, list[float]] = {}
    for _, kind, effect, _, _ in rows:
        effects.setdefault(kind, []).append(effect)
    assert np.mean(effects["10"]) < np.mean(effects["20"]) < np.mean(effects["30"])
    assert sum(effect > 0 for kind in effects.values() for effect in kind) >= 24
    assert [kind for _, kind, *_ in rows[:3]] == ["30", "30", "30"]
    # Few stand out alone, and those upwards.
    clear = [effect for _, _, effect, p, _ in rows if p < 0.05]
    assert 4 <= len(clear) <= 12
    assert min(clear) > 0


def test_against_the_half_hour_before_events_seem_to_empty_the_building(building: "House") -> None:
    # People come before the start: what is counted at the door then is the event already.
    ((falls, of),) = building.ask(
        "select count(*) filter (effect < 0), count(effect) from event_window.response() where p < 0.1"
    )
    assert falls > of / 2
