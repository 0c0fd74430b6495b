"""People counted at a building's main door for 15 weeks, with 30 dated events, through the whole main job.

Data: J. Hutchins, CalIt2 Building People Counts, UCI Machine Learning Repository 156, 2006,
DOI 10.24432/C5NG78; A. Ihler, J. Hutchins, P. Smyth, Adaptive event detection with time-varying Poisson
processes, ACM SIGKDD 2006. Figures are computed here from the published files by pandas.

What the files leave open, and what is taken for it:
- Times are local and name no zone; the building stands in Irvine, so they are read as America/Los_Angeles.
  Summer time ends on 2005-10-30, and the file holds the repeated hour once: it is read as the first one.
- A stamp closes its half hour (the published description: counts of the previous half hour), which is what a
  count is in motelake too. A half hour lies inside an event when start < stamp <= end.
- Each direction is a mote with one measure of kind count; they share a zone, whose sum is in and out.
- Motes count no bursts, so no sequence numbers are invented.
- Names of events are only codes (10, 20, 30), taken as their kind; some end in a blank, which is cut off.
"""

from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import duckdb
import numpy as np
import pandas as pd
import pytest

import motelake
from motelake.lake.store import Lake

if TYPE_CHECKING:
    Run = Callable[[str, Mapping[str, str], Mapping[str, Iterable[Any]]], Lake]

COUNTS, EVENTS = "calit2/CalIt2.data.csv", "calit2/CalIt2.events.csv"
ZONE = "America/Los_Angeles"
MOTES = {7: "door_out", 9: "door_in"}
HALF_HOUR = pd.Timedelta(minutes=30)
TEXTS = {
    "campaign.toml": f"""
title = "A building's main door"
time_zone = "{ZONE}"
starts_at = 2005-07-24T07:00:00Z
ends_at = 2005-11-07T08:00:00Z
burst_period_s = 1800
[levels]
ground = 0.0
[baseline]
from = "02:00"
to = "05:00"
""",
    "register/zones.csv": "zone,level,title,kind,area_m2,x_m,y_m\ndoor,ground,Main door,door,,,\n",
    "register/motes.csv": "mote,network,kit,level,zone,x_m,y_m,power,installed_at,removed_at,note\n"
    + "".join(f"{mote},,people,ground,door,,,mains,,,\n" for mote in MOTES.values()),
    "register/measures.csv": "measure,title,unit,kind,role,span_low,span_high,usual_low,usual_high,max_step,"
    "flat_after_min\npeople,People passing,count,count,crowd,0,1000,,,,\n",
}
# The half hours of the warehouse, by local stamp, in and out together.
SLOTS = f"""
    select time_bucket(interval '30 minutes', minute_at) + interval '30 minutes' as stamp_at,
           stamp_at at time zone '{ZONE}' as stamp, sum(value) as people
    from zone_minute where measure = 'people' group by all
"""


@pytest.fixture(scope="module")
def counts(find_data: Callable[[str], Path]) -> pd.DataFrame:
    """One row a stamp and direction: local stamp, time in UTC, mote, people; 10,080 rows."""
    table = pd.read_csv(find_data(COUNTS))
    stamp = pd.to_datetime(table["date"] + " " + table["time_stamp"], format="%m/%d/%y %H:%M:%S")
    at = stamp.dt.tz_localize(ZONE, ambiguous=np.full(len(stamp), True)).dt.tz_convert("UTC")
    return pd.DataFrame(
        {"stamp": stamp, "at": at, "mote": table["flow"].map(MOTES), "people": table["count"]}
    )


@pytest.fixture(scope="module")
def events(find_data: Callable[[str], Path]) -> pd.DataFrame:
    """The 30 events: local start and end, kind."""
    table = pd.read_csv(find_data(EVENTS))
    ends = {
        name: pd.to_datetime(table["date"] + " " + table[f"time_{name}"], format="%m/%d/%y %H:%M:%S")
        for name in ("start", "end")
    }
    return pd.DataFrame(ends).assign(kind=table["occurence"].str.partition(";")[0].str.strip())


@pytest.fixture(scope="module")
def lake(counts: pd.DataFrame, events: pd.DataFrame, run_lake: "Run") -> Lake:
    months = counts.groupby(counts["at"].dt.strftime("%Y-%m"))
    bursts = {f"raw/{month}/door.jsonl.gz": _bursts(rows) for month, rows in months}
    texts = TEXTS | {"programme/programme.csv": _programme(events)}
    return run_lake("building", texts, bursts)


@pytest.fixture(scope="module")
def engine(lake: Lake) -> duckdb.DuckDBPyConnection:
    return motelake.open(lake.url)


def _bursts(rows: pd.DataFrame) -> list[dict[str, Any]]:
    stamps = rows["at"].dt.strftime("%Y-%m-%dT%H:%M:%SZ")
    return [
        {"mote": mote, "received_at": stamp, "readings": {"people": people}}
        for mote, stamp, people in zip(rows["mote"], stamps, rows["people"].tolist(), strict=True)
    ]


def _programme(events: pd.DataFrame) -> str:
    table = pd.DataFrame({"event": [f"E{number:02d}" for number in range(1, len(events) + 1)]})
    table = table.assign(title="Event " + events["kind"], kind=events["kind"], zone="door")
    for column, local in (("starts_at", events["start"]), ("ends_at", events["end"])):
        table[column] = local.dt.tz_localize(ZONE).dt.tz_convert("UTC").dt.strftime("%Y-%m-%dT%H:%M:%SZ")
    return table.to_csv(index=False)


@pytest.fixture(scope="module")
def slots(counts: pd.DataFrame) -> pd.Series:
    """People in and out by local stamp, straight from the file; 5,040 half hours."""
    return counts.groupby("stamp")["people"].sum()


def test_sums_by_half_hour_come_back_as_they_were_counted(
    slots: pd.Series, engine: duckdb.DuckDBPyConnection
) -> None:
    # 1,800 s are shared out over 30 minutes and put together again.
    found = engine.execute(f"select stamp, people from ({SLOTS}) order by stamp").df()
    assert found["stamp"].tolist() == slots.index.tolist()
    assert found["people"].to_numpy() == pytest.approx(slots.to_numpy(), abs=1e-9)
    assert engine.execute("select sum(value) from reading").fetchall() == [(slots.sum(),)]
    assert slots.sum() == 19_597 + 18_837


def test_a_count_covers_every_minute_of_its_half_hour_evenly(engine: duckdb.DuckDBPyConnection) -> None:
    found = engine.execute(
        "select min(covered_s), max(covered_s), min(n), max(n), max(left_out), count(*) from mote_minute"
    ).fetchall()
    assert found == [(60, 60, 1, 1, 0, 10_080 * 30)]


def test_the_hour_that_summer_time_repeats_is_missing_once_and_counted_once(
    engine: duckdb.DuckDBPyConnection,
) -> None:
    found = engine.execute(
        f"select count(*), count(distinct stamp) from ({SLOTS}) where stamp::date = '2005-10-30'"
    ).fetchall()
    assert found == [(48, 48)]
    gap = engine.execute(
        "select count(*) from zone_minute "
        "where minute_at >= '2005-10-30 08:30Z' and minute_at < '2005-10-30 10:30Z'"
    ).fetchall()
    assert gap == [(60,)]


def test_events_against_the_same_weekday_and_time_without_an_event_are_as_computed_apart(
    slots: pd.Series, events: pd.DataFrame, engine: duckdb.DuckDBPyConnection
) -> None:
    stamps = slots.index.to_series()
    inside = pd.Series(False, index=stamps)
    for start, end in zip(events["start"], events["end"], strict=True):
        inside |= stamps.between(start, end, inclusive="right")
    # The date is that of the half hour's stamp: no event of these data reaches midnight.
    is_quiet_date = ~stamps.dt.normalize().isin(events["start"].dt.normalize())
    week_time = [stamps.dt.day_of_week, stamps.dt.time]
    usual = slots.where(is_quiet_date).groupby(week_time).transform("mean")
    during, matched = slots[inside].mean(), usual[inside].mean()
    assert (inside.sum(), round(during, 2), round(matched, 2)) == (177, 28.47, 19.81)
    assert round(during / matched, 3) == 1.438

    found = engine.execute(f"""
        with slot as ({SLOTS}),
        event as (
            select event, starts_at, ends_at, (starts_at at time zone '{ZONE}')::date as event_date
            from programme_event
        ),
        inside as (
            select distinct slot.stamp, slot.people
            from slot join event on slot.stamp_at > event.starts_at and slot.stamp_at <= event.ends_at
        ),
        usual as (
            select isodow(stamp) as weekday, stamp::time as time_of_day, avg(people) as people
            from slot where stamp::date not in (select event_date from event) group by all
        )
        select count(*), avg(inside.people), avg(usual.people)
        from inside
        join usual on usual.weekday = isodow(inside.stamp) and usual.time_of_day = inside.stamp::time
    """).fetchall()
    assert found == [(177, pytest.approx(during, rel=1e-9), pytest.approx(matched, rel=1e-9))]


def test_two_events_overlap_so_that_a_plain_join_counts_six_half_hours_twice(
    engine: duckdb.DuckDBPyConnection,
) -> None:
    found = engine.execute(
        f"select count(*), count(distinct stamp) from ({SLOTS}) as slot "
        "join programme_event as event on slot.stamp_at > event.starts_at and slot.stamp_at <= event.ends_at"
    ).fetchall()
    assert found == [(183, 177)]


def test_against_all_other_half_hours_events_would_falsely_seem_four_times_as_busy(
    engine: duckdb.DuckDBPyConnection,
) -> None:
    ((during, other),) = engine.execute(f"""
        with slot as ({SLOTS})
        select avg(people) filter (is_inside), avg(people) filter (not is_inside)
        from (
            select people, exists (
                from programme_event as event
                where slot.stamp_at > event.starts_at and slot.stamp_at <= event.ends_at
            ) as is_inside
            from slot
        )
    """).fetchall()
    assert (round(during, 2), round(other, 2), round(during / other, 2)) == (28.47, 6.87, 4.15)


def test_the_page_tells_fifteen_weeks_by_days_and_hours(
    lake: Lake, make_pages: Callable[[Lake], Mapping[str, str]]
) -> None:
    page = make_pages(lake)["published/page.html"]
    assert len(page) < 2_000_000
    for sentence in (
        "One row for each day, its hours from left to right.",
        "There is only one measure, so nothing for it to go with.",
        "People passing: the busiest hour was",
        "2 heard, of 2 motes.",
    ):
        assert sentence in page
    for key in ("changes", "crowd", "strips", "effects", "fleet"):
        assert f'<figure id="{key}-0">' in page
    assert page.count("Not answered here") == 0
