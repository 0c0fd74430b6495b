"""Publishing: what is written, what is not, and what readers find."""

import json
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from itertools import count
from typing import TYPE_CHECKING

import duckdb
import pytest

from motelake.errors import StoreError
from motelake.lake.store import Lake
from motelake.library import read_library
from motelake.steps.read import open_snapshot

if TYPE_CHECKING:
    from tests.steps.conftest import Place

NINE = datetime(2031, 5, 9, 9, tzinfo=UTC)
TEN = NINE + timedelta(hours=1)


def test_a_first_publish_writes_a_part_an_hour_and_a_snapshot_that_names_them(place: "Place") -> None:
    place.hear(NINE)
    place.hear(TEN)
    report = place.publish()
    assert (report.is_new, report.parts_written, report.hours) == (True, 4, 2)
    current = json.loads(place.lake.read("published/current.json"))
    assert current["title"] == "Depot Fair"
    assert (current["data_from"], current["data_to"]) == ("2031-05-09T09:00:00Z", "2031-05-09T10:59:00Z")
    hours = [name.removeprefix("parts/reading/")[:13] for name in current["parts"]["reading"]]
    assert hours == ["2031-05-09T09", "2031-05-09T10"]
    assert _count(place) == 360


def test_publishing_again_without_a_change_writes_nothing(place: "Place") -> None:
    place.hear(NINE)
    first = place.publish()
    before = {name: place.lake.local_path(name).stat().st_mtime_ns for name in place.names()}
    again = place.publish()
    assert (again.snapshot, again.is_new, again.parts_written) == (first.snapshot, False, 0)
    assert {name: place.lake.local_path(name).stat().st_mtime_ns for name in place.names()} == before


def test_only_the_changed_hour_is_written_again(place: "Place") -> None:
    place.hear(NINE)
    place.hear(TEN)
    place.publish()
    parts = place.names("published/parts")
    place.engine.execute("update reading set flag = 4 where sampled_at = ?", [TEN])
    place.engine.execute("insert into work.dirty_hour values (?)", [TEN])
    report = place.publish()
    assert report.parts_written == 1
    (new,) = place.names("published/parts") - parts
    assert new.startswith("published/parts/reading/2031-05-09T10-")


def test_an_hour_called_changed_that_holds_the_same_rows_keeps_its_parts(place: "Place") -> None:
    place.hear(NINE)
    place.publish()
    place.engine.execute("create table other as from reading order by random()")
    place.engine.execute("delete from reading")
    place.engine.execute("insert into reading from other")
    place.engine.execute("insert into work.dirty_hour values (?)", [NINE])
    report = place.publish()
    assert (report.hours, report.parts_written, report.is_new) == (1, 0, False)


def test_an_hour_that_lost_its_rows_leaves_the_snapshot(place: "Place") -> None:
    place.hear(NINE)
    place.hear(TEN)
    place.publish()
    for table in ("reading", "burst"):
        place.engine.execute(f"delete from {table} where sampled_at >= ?", [TEN])
    place.engine.execute("insert into work.dirty_hour values (?)", [TEN])
    place.publish()
    assert _count(place) == 180


def test_an_empty_warehouse_is_published_and_can_be_asked(place: "Place") -> None:
    place.publish()
    reader = open_snapshot(place.lake)
    assert reader.execute("from reading").fetchall() == []
    assert reader.execute("from climate.above()").fetchall() == []


def test_a_changed_register_makes_a_new_snapshot_of_the_same_parts(place: "Place") -> None:
    place.hear(NINE)
    first = place.publish()
    place.engine.execute("insert into level values ('pit', 0)")
    second = place.publish()
    assert (second.is_new, second.parts_written) == (True, 0)
    assert second.snapshot != first.snapshot
    assert open_snapshot(place.lake).execute("from level").fetchall() == [("pit", 0.0)]


def test_a_snapshot_made_from_the_one_before_says_what_one_made_afresh_says(place: "Place") -> None:
    place.hear(NINE)
    place.publish()
    place.engine.execute("insert into level values ('pit', 0)")
    identity = place.publish().snapshot
    of_the_one_before = _said(open_snapshot(place.lake))
    place.lake.remove(f"published/snapshots/{identity}.duckdb")
    place.lake.remove("published/current.json")
    assert place.publish().snapshot == identity
    assert _said(open_snapshot(place.lake)) == of_the_one_before


def test_a_snapshot_is_made_where_the_one_before_is_gone_or_of_another_library(place: "Place") -> None:
    first = place.publish()
    place.lake.remove(f"published/snapshots/{first.snapshot}.duckdb")
    place.engine.execute("insert into level values ('pit', 0)")
    place.publish()
    assert open_snapshot(place.lake).execute("from level").fetchall() == [("pit", 0.0)]
    place.library = read_library()
    place.publish()
    assert open_snapshot(place.lake).execute("select count(*) from fleet.state").fetchall() == [(0,)]


@pytest.mark.parametrize("kept", [0, 0.01, 0.5, 0.9])
def test_a_damaged_snapshot_is_not_taken_over(place: "Place", kept: float) -> None:
    first = place.publish()
    file = place.lake.local_path(f"published/snapshots/{first.snapshot}.duckdb")
    content = file.read_bytes()
    file.write_bytes(content[: int(kept * len(content))])
    place.engine.execute("insert into level values ('pit', 0)")
    place.publish()
    assert open_snapshot(place.lake).execute("from level").fetchall() == [("pit", 0.0)]


def test_a_warehouse_made_anew_publishes_the_same_names(place: "Place") -> None:
    place.hear(NINE)
    first = place.publish()
    place.engine.execute("drop table work.part")
    place.engine.execute("insert into work.dirty_hour values (?)", [NINE])
    again = place.publish()
    assert (again.snapshot, again.parts_written) == (first.snapshot, 0)


def test_a_published_folder_thrown_away_is_made_again(place: "Place") -> None:
    place.hear(NINE)
    place.publish()
    for name in place.names():
        place.lake.remove(name)
    report = place.publish()
    assert (report.is_new, report.parts_written) == (True, 2)
    assert _count(place) == 180


# Before the word that it is current: the note of what comes, two parts, the note of what goes, the snapshot.
# The seventh write, after it, takes from the notes what is in use.
@pytest.mark.parametrize("failing", range(1, 7))
def test_a_publish_that_dies_anywhere_is_finished_by_the_next(
    place: "Place", monkeypatch: pytest.MonkeyPatch, failing: int
) -> None:
    place.hear(NINE)
    place.publish()
    place.hear(TEN)
    with monkeypatch.context() as patch:
        _let_write_fail(patch, failing)
        with pytest.raises(StoreError):
            place.publish()
        assert _count(place) == 180
    place.publish()
    assert _count(place) == 360


def test_what_was_replaced_goes_a_day_after_nothing_names_it(place: "Place") -> None:
    start = datetime(2031, 5, 9, 12, tzinfo=UTC)
    place.hear(NINE)
    place.publish(start)
    old = place.names("published/parts/reading") | place.names("published/snapshots")
    place.engine.execute("update reading set value = 30")
    place.engine.execute("insert into work.dirty_hour values (?)", [NINE])
    place.publish(start + timedelta(hours=1))
    assert old < place.names()
    assert place.publish(start + timedelta(hours=24, minutes=59)).files_removed == 0
    assert place.publish(start + timedelta(hours=25)).files_removed == 2
    assert not old & place.names()
    assert open_snapshot(place.lake).execute("select avg(value) from reading").fetchall() == [(30.0,)]


def test_a_part_that_is_named_again_stays(place: "Place") -> None:
    start = datetime(2031, 5, 9, 12, tzinfo=UTC)
    place.hear(NINE)
    first = place.publish(start)
    for value, hours in ((30, 1), (20, 2)):
        place.engine.execute("update reading set value = ?", [value])
        place.engine.execute("insert into work.dirty_hour values (?)", [NINE])
        last = place.publish(start + timedelta(hours=hours))
    assert last.snapshot == first.snapshot
    place.publish(start + timedelta(days=3))
    assert open_snapshot(place.lake).execute("select avg(value) from reading").fetchall() == [(20.0,)]


def test_what_a_dead_publisher_left_behind_goes_too(place: "Place", monkeypatch: pytest.MonkeyPatch) -> None:
    start = datetime(2031, 5, 9, 12, tzinfo=UTC)
    place.hear(NINE)
    with monkeypatch.context() as patch:
        patch.setattr("motelake.steps.publish.record_parts", _die)
        with pytest.raises(StoreError):
            place.publish(start)
    left = place.names("published/parts/reading")
    assert left
    place.engine.execute("update reading set value = 30")
    place.publish(start + timedelta(hours=1))
    place.publish(start + timedelta(hours=26))
    assert not left & place.names()


def test_a_snapshot_opens_in_plain_duckdb_by_one_line(place: "Place") -> None:
    place.hear(NINE)
    identity = place.publish().snapshot
    file = place.lake.local_path(f"published/snapshots/{identity}.duckdb")
    published = place.lake.local_path("published")
    for line in (f"set file_search_path = '{published}'", f"set variable published = '{published}/'"):
        with duckdb.connect(file, read_only=True) as plain:
            plain.execute(line)
            assert plain.execute("from climate.above(bound := 19) order by mote").fetchall() == [
                ("M0", 20.0),
                ("M1", 20.0),
                ("M2", 20.0),
            ]


def test_the_catalogue_says_what_tables_views_and_columns_hold(place: "Place") -> None:
    place.publish()
    reader = open_snapshot(place.lake)
    said = reader.execute(
        "select table_name, column_name, comment from duckdb_columns() where comment is not null"
    ).fetchall()
    about = {(table, column): comment for table, column, comment in said}
    assert about["reading", "value"].startswith("the value as sent")
    assert about["mote", "mote"]
    assert about["warmth", "warmth"] == "its mean [Cel]"
    views = dict(
        reader.execute("select view_name, comment from duckdb_views() where not internal").fetchall()
    )
    assert "one row per burst and measure" in views["reading"]


def test_the_library_of_this_program_can_be_published_and_asked(place: "Place") -> None:
    place.library = read_library()
    place.hear(NINE)
    report = place.publish(refresh=("run", "hour", "day"))
    assert report.answers_failed == ()
    reader = open_snapshot(place.lake)
    for entry in place.library.questions():
        if not any(parameter.is_required for parameter in entry.parameters):
            reader.execute(f"from {entry.name}" + ("()" if entry.kind == "macro" else "")).fetchall()


def _said(reader: duckdb.DuckDBPyConnection) -> list[list[tuple[object, ...]]]:
    return [
        reader.execute(query).fetchall()
        for query in (
            "select table_name, sql, comment from duckdb_tables() order by all",
            "select schema_name, view_name, sql, comment from duckdb_views() where not internal order by all",
            "select function_name, macro_definition, comment from duckdb_functions() where not internal "
            "order by all",
            "select table_name, column_name, comment from duckdb_columns() where not internal order by all",
            "from level",
        )
    ]


def _count(place: "Place") -> int:
    return int(open_snapshot(place.lake).execute("select count(*) from reading").fetchall()[0][0])


def _let_write_fail(patch: pytest.MonkeyPatch, failing: int) -> None:
    turns = count(1)

    def failing_in_turn(deed: Callable[..., None]) -> Callable[..., None]:
        def write(*given: object) -> None:
            if next(turns) == failing:
                raise StoreError("the disk is full")
            deed(*given)

        return write

    patch.setattr(Lake, "write", failing_in_turn(Lake.write))
    patch.setattr(Lake, "put_file", failing_in_turn(Lake.put_file))


def _die(*_: object) -> None:
    raise StoreError("gone")
