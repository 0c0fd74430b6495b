"""A room with seven nodes and a people count, 2017-12-22 to 2018-01-11, through the whole main job.

Data: A. Singh, S. Chaudhari, Room Occupancy Estimation, UCI Machine Learning Repository 864, 2018,
DOI 10.24432/C5P605, CC BY 4.0. Figures are computed here from the published file by pandas and scipy.

What the file leaves open, and what is taken for it:
- Its times are local and name no zone; the data set comes from Hyderabad, so they are read as Asia/Kolkata.
- The stamp of a row is taken for the time at which each node's burst was received. Nodes send every 30 or
  31 s and have no sequence numbers; none are invented.
- The people count tells how many are in the room at that instant. It is a state and no number of arrivals,
  so its kind is level (a mean over the minute); it is what the room's crowd is known by, so its role is
  crowd. It is carried by an eighth mote, as if a person at the door had one.
- Sound is the voltage of an amplifier, which is no decibel: kind level.
- Some cells are empty: those readings are missing, and a burst of which all are missing was not sent.
- The slope of CO2 is computed from CO2 by its authors and is registered nowhere, so it must not come in.
"""

import math
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import duckdb
import pandas as pd
import pytest
from scipy import stats

import motelake
from motelake.lake.chain import read_manifests
from motelake.lake.store import Lake

if TYPE_CHECKING:
    Run = Callable[[str, Mapping[str, str], Mapping[str, Iterable[Any]]], Lake]

FILE = "uci_room_occupancy_estimation/Occupancy_Estimation.csv"
ZONE = "Asia/Kolkata"
COLUMNS = {
    **{f"S{node}": {"Temp": "temperature", "Light": "light", "Sound": "sound"} for node in range(1, 5)},
    "S5": {"CO2": "co2", "CO2_Slope": "co2_slope"},
    "S6": {"PIR": "motion"},
    "S7": {"PIR": "motion"},
    "Room": {"Occupancy_Count": "occupancy"},
}
TEXTS = {
    "campaign.toml": f"""
title = "A room with seven nodes"
time_zone = "{ZONE}"
starts_at = 2017-12-22T00:00:00Z
ends_at = 2018-01-12T00:00:00Z
burst_period_s = 30
[levels]
ground = 0.0
[baseline]
from = "02:00"
to = "05:00"
""",
    "register/zones.csv": "zone,level,title,kind,area_m2,x_m,y_m\nroom,ground,The room,room,,,\n",
    "register/motes.csv": "mote,network,kit,level,zone,x_m,y_m,power,installed_at,removed_at,note\n"
    + "".join(f"S{node},star,temperature+light+sound,ground,room,,,mains,,,\n" for node in range(1, 5))
    + "S5,star,co2,ground,room,,,mains,,,\n"
    + "".join(f"S{node},star,motion,ground,room,,,mains,,,\n" for node in (6, 7))
    + "Room,,occupancy,ground,room,,,,,,people counted by hand\n",
    "register/measures.csv": "measure,title,unit,kind,role,span_low,span_high,usual_low,usual_high,max_step,"
    "flat_after_min\n"
    "temperature,Temperature,Cel,level,temperature,-40,85,,,,\n"
    "light,Light,lx,level,light,0,2000,,,,\n"
    "sound,Amplified sound,V,level,sound,0,5,,,,\n"
    "co2,Carbon dioxide,ppm,level,,0,5000,,,,\n"
    "motion,Motion,/,ratio,,0,1,,,,\n"
    "occupancy,People in the room,count,level,crowd,0,100,,,,\n",
}


@pytest.fixture(scope="module")
def room(find_data: Callable[[str], Path]) -> pd.DataFrame:
    """The published table with the time of each row in UTC; 10,129 rows."""
    table = pd.read_csv(find_data(FILE))
    local = pd.to_datetime(table["Date"] + " " + table["Time"])
    return table.assign(at=local.dt.tz_localize(ZONE).dt.tz_convert("UTC"))


@pytest.fixture(scope="module")
def lake(room: pd.DataFrame, run_lake: "Run") -> Lake:
    bursts = {f"raw/{day}/room.jsonl.gz": _bursts(rows) for day, rows in room.groupby("Date")}
    return run_lake("room", TEXTS, bursts)


@pytest.fixture(scope="module")
def engine(lake: Lake) -> duckdb.DuckDBPyConnection:
    return motelake.open(lake.url)


def _bursts(rows: pd.DataFrame) -> list[dict[str, Any]]:
    """One burst a row and node, in the order of time, with the node's own columns as readings."""
    stamps = rows["at"].dt.strftime("%Y-%m-%dT%H:%M:%SZ")
    bursts = []
    for mote, columns in COLUMNS.items():
        values = rows[[f"{mote}_{column}" for column in columns]].to_numpy().tolist()
        for stamp, row in zip(stamps, values, strict=True):
            readings = {
                measure: value
                for measure, value in zip(columns.values(), row, strict=True)
                if not math.isnan(value)
            }
            if readings:
                bursts.append({"mote": mote, "received_at": stamp, "readings": readings})
    return sorted(bursts, key=lambda burst: str(burst["received_at"]))


def test_every_row_is_a_burst_of_each_mote_that_sent_anything(
    room: pd.DataFrame, engine: duckdb.DuckDBPyConnection
) -> None:
    counted = engine.execute(
        "select mote, count(*), count(distinct sampled_at), any_value(time_quality), min(seq) from burst "
        "group by mote order by mote"
    ).fetchall()
    # One row of S3 is empty. Two rows of S5 hold only the slope: bursts of which no reading may come in.
    rows = {mote: len(room) for mote in COLUMNS} | {"S3": len(room) - 1}
    assert counted == [(mote, rows[mote], rows[mote], "received", None) for mote in sorted(COLUMNS)]


def test_readings_are_those_of_the_file_to_the_last_bit(
    room: pd.DataFrame, engine: duckdb.DuckDBPyConnection
) -> None:
    for mote, columns in COLUMNS.items():
        for column, measure in columns.items():
            found = engine.execute(
                "select sampled_at, value from reading where mote = ? and measure = ? order by sampled_at",
                [mote, measure],
            ).fetchall()
            published = room[["at", f"{mote}_{column}"]].dropna()
            wanted = [] if measure == "co2_slope" else published.itertuples(index=False, name=None)
            assert found == list(wanted)


def test_a_column_that_is_not_registered_is_dropped_and_counted(room: pd.DataFrame, lake: Lake) -> None:
    dropped = [one.dropped for manifest in read_manifests(lake) for one in manifest.objects]
    assert {name.rpartition(".")[2] for one in dropped for name in one} == {"co2_slope"}
    assert sum(sum(one.values()) for one in dropped) == room["S5_CO2_Slope"].count()


# Figures of the published rows as they stand, at lag 0, to three decimals.
@pytest.mark.parametrize(
    ("column", "measure", "stated"),
    [
        ("S5_CO2", "co2", 0.660),
        ("S1_Light", "light", 0.849),
        ("S1_Temp", "temperature", 0.701),
        ("S1_Sound", "sound", 0.573),
    ],
)
def test_readings_follow_the_people_count_as_closely_as_published_rows_do(
    room: pd.DataFrame, engine: duckdb.DuckDBPyConnection, column: str, measure: str, stated: float
) -> None:
    found = engine.execute(
        "select corr(a.value, b.value), count(*) from reading as a join reading as b "
        "on b.sampled_at = a.sampled_at and b.measure = 'occupancy' where a.mote = ? and a.measure = ?",
        [column[:2], measure],
    ).fetchall()
    both = room[[column, "Room_Occupancy_Count"]].dropna()
    wanted = stats.pearsonr(both[column], both["Room_Occupancy_Count"]).statistic
    assert found == [(pytest.approx(wanted, abs=1e-9), len(both))]
    assert round(wanted, 3) == stated


@pytest.mark.parametrize(("measure", "stated"), [("co2", 0.660), ("light", 0.849)])
def test_lagged_says_what_pandas_says_of_the_same_minutes(
    room: pd.DataFrame, engine: duckdb.DuckDBPyConnection, measure: str, stated: float
) -> None:
    # Unlike the rows, minutes weigh the same, and each node counts by its departure from its own median.
    minutes = room.drop(columns=["Date", "Time", "at"]).groupby(room["at"].dt.floor("min")).mean()
    of_measure = [
        f"{mote}_{column}"
        for mote, columns in COLUMNS.items()
        for column, name in columns.items()
        if name == measure
    ]
    departure = (minutes[of_measure] - minutes[of_measure].median()).mean(axis="columns").dropna()
    people = minutes["Room_Occupancy_Count"]
    answer = engine.execute(
        "select lag_min, r, n from correlation.lagged(measure_a := ?, measure_b := 'occupancy', "
        "max_lag_min := 20, zone := 'room', remove_cycle := false) order by lag_min",
        [measure],
    ).fetchall()
    assert [lag for lag, _, _ in answer] == list(range(-20, 21))
    for lag, r, n in answer:
        # Above 0 the first measure leads: its minute t stands beside minute t + lag of the count.
        later = people.shift(-lag, freq="min")
        both = pd.concat([departure, later], axis="columns", join="inner")
        assert n == len(both)
        assert r == pytest.approx(stats.pearsonr(both.iloc[:, 0], both.iloc[:, 1]).statistic, abs=1e-9)
    # Rows of one node against minutes of all that carry the measure: near, not equal.
    assert {lag: r for lag, r, _ in answer}[0] == pytest.approx(stated, abs=0.1)


def test_the_gap_of_fifteen_days_stays_a_gap(room: pd.DataFrame, engine: duckdb.DuckDBPyConnection) -> None:
    found = engine.execute(
        "select count(*), count(*) filter (value is null) from zone_minute where measure = 'co2'"
    ).fetchall()
    assert found == [(room["at"].dt.floor("min").nunique(), 0)]


def test_the_page_tells_when_the_room_was_full_and_what_went_with_it(
    lake: Lake, make_pages: Callable[[Lake], Mapping[str, str]]
) -> None:
    page = make_pages(lake)["published/page.html"]
    for sentence in (
        "People in the room: the busiest hour was Fri 22 Dec",
        "There is no programme, so no event can be looked at.",
        "8 heard, of 8 motes.",
    ):
        assert sentence in page
    # How many people there are at once is no number a minute.
    assert "People in the room" in page
    assert "per minute" not in page
    for key in ("changes", "crowd", "strips", "pairs", "fleet"):
        assert f'<figure id="{key}-0">' in page
    assert page.count("Not answered here") == 0
