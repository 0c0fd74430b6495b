"""Reading what is published, in a folder and in memory, while it is replaced."""

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import duckdb
import pytest

import motelake
from motelake.config import Config
from motelake.errors import InputError, QueryError, UnknownNameError
from motelake.steps.query import run_sql
from motelake.steps.read import ask, find_current, open_snapshot

if TYPE_CHECKING:
    from tests.steps.conftest import Place

NINE = datetime(2031, 5, 9, 9, tzinfo=UTC)
MEAN = "select avg(value) from reading"


def test_a_lake_without_a_snapshot_says_how_to_get_one(place: "Place") -> None:
    with pytest.raises(InputError, match=r"Nothing is published .* Run 'motelake run"):
        motelake.open(place.lake.url)


def test_the_python_door_opens_the_current_snapshot(place: "Place") -> None:
    place.hear(NINE)
    place.publish()
    rows = motelake.open(place.lake.url).sql("from climate.above(bound := 15) order by mote").df()
    assert list(rows["mote"]) == ["M0", "M1", "M2"]


def test_one_process_reads_old_and_new_snapshots_side_by_side(place: "Place") -> None:
    place.hear(NINE)
    place.publish()
    before = open_snapshot(place.lake)
    same = open_snapshot(place.lake)
    place.engine.execute("update reading set value = 30")
    place.engine.execute("insert into work.dirty_hour values (?)", [NINE])
    place.publish()
    after = open_snapshot(place.lake)
    answers = [reader.execute(MEAN).fetchall()[0][0] for reader in (before, same, after)]
    assert answers == [20.0, 20.0, 30.0]


def test_a_reader_cannot_change_what_is_published(place: "Place") -> None:
    place.hear(NINE)
    place.publish()
    reader = open_snapshot(place.lake)
    with pytest.raises(duckdb.Error, match="read-only"):
        reader.execute("insert into level values ('pit', 0)")
    reader.execute("create temp table kept as from climate.warmth")
    assert reader.execute("select count(*) from kept").fetchall() == [(3,)]


def test_a_lake_in_memory_is_published_and_read_alike(memory_place: "Place") -> None:
    memory_place.hear(NINE)
    memory_place.publish()
    memory_place.hear(NINE.replace(hour=10), value=30.0)
    memory_place.publish()
    assert open_snapshot(memory_place.lake).execute(MEAN).fetchall() == [(25.0,)]
    config = Config(lake=memory_place.lake.url, warehouse=Path("none.duckdb"))
    assert run_sql(memory_place.lake, "select avg(value) as mean from reading", config).to_pylist() == [
        {"mean": 25.0}
    ]
    assert len(find_current(memory_place.lake).parts["reading"]) == 2


def test_a_lake_elsewhere_is_read_through_its_store(memory_place: "Place") -> None:
    memory_place.hear(NINE)
    memory_place.publish()
    # Memory stands in for a store on the network; one thread, because its readers share a cursor.
    reader = open_snapshot(replace(memory_place.lake, url="elsewhere"), threads=1)
    assert reader.execute("select count(*), avg(value) from reading").fetchall() == [(180, 20.0)]
    assert reader.execute("from climate.above(bound := 25)").fetchall() == []


def test_a_question_is_asked_with_parameters_given_as_text(place: "Place") -> None:
    place.hear(NINE, motes=1)
    place.publish()
    answer = ask(place.lake, "climate.above", {"bound": "19.5"}, library=place.library)
    assert answer.to_pylist() == [{"mote": "M0", "warmth": 20.0}]
    assert ask(place.lake, "climate.above", {"bound": "20.5"}, library=place.library).num_rows == 0


def test_a_question_that_is_wrong_is_told_what_there_is(place: "Place") -> None:
    place.publish()
    with pytest.raises(UnknownNameError, match=r"Did you mean 'climate.above'"):
        ask(place.lake, "climate.abov", library=place.library)
    with pytest.raises(QueryError, match="Did you mean 'bound'"):
        ask(place.lake, "climate.above", {"bond": "1"}, library=place.library)
    with pytest.raises(QueryError, match="is a number"):
        ask(place.lake, "climate.above", {"bound": "warm"}, library=place.library)


def test_a_question_newer_than_the_snapshot_says_so(place: "Place") -> None:
    place.publish()
    with pytest.raises(QueryError, match="does not exist"):
        ask(place.lake, "fleet.state")
