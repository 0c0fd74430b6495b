"""Published answers: which are made when, and what is said about them."""

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

import duckdb
import pandas as pd
import polars
import pyarrow.parquet as pq

if TYPE_CHECKING:
    from tests.steps.conftest import Place

NINE = datetime(2031, 5, 9, 9, tzinfo=UTC)
NOON = datetime(2031, 5, 9, 12, tzinfo=UTC)


def test_a_run_makes_the_answers_of_its_own_kind_only(place: "Place") -> None:
    place.hear(NINE)
    report = place.publish(NOON)
    assert report.answers_made == ("climate.warmth",)
    assert place.names("published/answers") == {"published/answers/climate.warmth.parquet"}


def test_an_answer_is_said_with_its_columns_units_snapshot_and_time(place: "Place") -> None:
    place.hear(NINE)
    report = place.publish(NOON)
    (said,) = _listed(place)
    assert (said["name"], said["refresh"], said["rows"]) == ("climate.warmth", "run", 3)
    assert (said["snapshot"], said["refreshed_at"]) == (report.snapshot, "2031-05-09T12:00:00Z")
    assert said["columns"][1] == {"name": "warmth", "type": "DOUBLE", "unit": "Cel", "meaning": "its mean"}
    file = place.lake.local_path(f"published/{said['file']}")
    assert pq.read_metadata(file).metadata[b"snapshot"].decode() == report.snapshot
    assert sorted(pd.read_parquet(file)["mote"]) == ["M0", "M1", "M2"]
    assert sorted(polars.read_parquet(file)["mote"]) == ["M0", "M1", "M2"]
    with duckdb.connect() as engine:
        rows = engine.execute(f"select mote from read_parquet('{file}') order by mote").fetchall()
    assert rows == [("M0",), ("M1",), ("M2",)]


def test_an_answer_keeps_its_path_whatever_is_published(place: "Place") -> None:
    place.hear(NINE)
    place.publish(NOON)
    before = _listed(place)[0]["file"]
    place.engine.execute("update reading set value = 30")
    place.engine.execute("insert into work.dirty_hour values (?)", [NINE])
    place.publish(NOON + timedelta(minutes=5))
    (said,) = _listed(place)
    assert said["file"] == before == f"answers/{said['name']}.parquet"
    assert set(pd.read_parquet(place.lake.local_path(f"published/{before}"))["warmth"]) == {30.0}


def test_slower_answers_are_made_when_their_kind_is_asked_for(place: "Place") -> None:
    place.hear(NINE)
    place.publish(NOON)
    report = place.publish(NOON, refresh=("run", "hour"))
    assert report.answers_made == ("climate.above",)
    place.engine.execute("update reading set value = 30")
    place.engine.execute("insert into work.dirty_hour values (?)", [NINE])
    place.publish(NOON + timedelta(minutes=5))
    times = {said["name"]: said["refreshed_at"] for said in _listed(place)}
    assert times == {"climate.above": "2031-05-09T12:00:00Z", "climate.warmth": "2031-05-09T12:05:00Z"}


def test_an_answer_that_is_up_to_date_is_not_made_again(place: "Place") -> None:
    place.hear(NINE)
    place.publish(NOON)
    assert place.publish(NOON + timedelta(minutes=5)).answers_made == ()


def test_a_question_that_needs_a_value_is_no_answer(place: "Place") -> None:
    place.hear(NINE)
    made = place.publish(NOON, refresh=("run", "hour", "day")).answers_made
    assert sorted(made) == ["climate.above", "climate.depth", "climate.warmth"]


def test_an_answer_that_fails_keeps_its_old_rows_and_hinders_nothing(place: "Place") -> None:
    place.hear(NINE)
    place.engine.execute("insert into level values ('roof', 9)")
    place.publish(NOON, refresh=("run", "day"))
    place.engine.execute("insert into level values ('pit', -1)")
    report = place.publish(NOON, refresh=("run", "day"))
    assert (report.answers_failed, report.answers_made) == (("climate.depth",), ("climate.warmth",))
    file = place.lake.local_path("published/answers/climate.depth.parquet")
    assert pd.read_parquet(file)["warmth"].tolist() == [9.0]


def test_an_answer_whose_question_is_gone_goes_too(place: "Place") -> None:
    place.hear(NINE)
    place.publish(NOON, refresh=("run", "hour"))
    entries = {name: entry for name, entry in place.library.entries.items() if name != "climate.above"}
    place.library = replace(place.library, entries=entries)
    place.publish(NOON)
    assert [said["name"] for said in _listed(place)] == ["climate.warmth"]
    assert place.names("published/answers") == {"published/answers/climate.warmth.parquet"}


def _listed(place: "Place") -> list[dict[str, Any]]:
    answers: list[dict[str, Any]] = json.loads(place.lake.read("published/answers.json"))["answers"]
    return answers
