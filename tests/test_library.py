"""The library of views: found, read, ordered, created and called by name."""

from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import duckdb
import pytest

from motelake.errors import LibraryError, QueryError, UnknownNameError
from motelake.library import call, read_library, statements
from motelake.library.folder import needed_names
from motelake.library.index import index_text

LIBRARY = read_library()
LAGGED = LIBRARY.find("correlation.lagged")


def write_entry(folder: Path, name: str, statement: str, about: str) -> None:
    place = folder / name
    place.mkdir(parents=True)
    (place / "view.sql").write_text(statement)
    (place / "about.yaml").write_text(about)


ABOUT = "question: q\ngrain: one row\nmethod: m\nmisleads: never\ncolumns: {a: {type: INTEGER, doc: one}}\n"


def test_the_index_is_current() -> None:
    text = (LIBRARY.folder / "README.md").read_text(encoding="utf-8")
    assert text == index_text(LIBRARY), "run python -m motelake.library.index"


def test_entries_stand_after_what_they_need() -> None:
    place = {name: number for number, name in enumerate(LIBRARY.entries)}
    assert all(
        place[needed] < place[entry.name] for entry in LIBRARY.entries.values() for needed in entry.needs
    )


def test_names_in_comments_and_texts_are_not_needed() -> None:
    statement = "select 'series.a', 1 -- series.b\n/* series.c */ from series.d join x.y on true"
    assert needed_names(statement) == {"series.d", "x.y"}


def test_entries_in_a_ring_are_refused_by_name(tmp_path: Path) -> None:
    write_entry(tmp_path, "flow/one", "select a from flow.two", ABOUT)
    write_entry(tmp_path, "flow/two", "select a from flow.one", ABOUT)
    with pytest.raises(LibraryError, match=r"flow\.one -> flow\.two -> flow\.one"):
        read_library(tmp_path)


def test_an_entry_that_does_not_say_how_it_misleads_is_refused(tmp_path: Path) -> None:
    write_entry(tmp_path, "flow/one", "select 1 as a", ABOUT.replace("misleads: never\n", ""))
    with pytest.raises(LibraryError, match="does not say misleads"):
        read_library(tmp_path)


def test_an_entry_without_a_description_is_refused(tmp_path: Path) -> None:
    write_entry(tmp_path, "flow/one", "select 1 as a", ABOUT)
    (tmp_path / "flow/one/about.yaml").unlink()
    with pytest.raises(LibraryError, match=r"no about\.yaml beside it"):
        read_library(tmp_path)


def test_the_catalogue_carries_descriptions_and_units(warehouse: duckdb.DuckDBPyConnection) -> None:
    comments = dict(
        warehouse.execute(
            "select column_name, comment from duckdb_columns() where schema_name = 'fleet'"
        ).fetchall()
    )
    assert comments["battery_v"] == "supply voltage it told last [V]"
    lagged = warehouse.execute(
        "select comment from duckdb_functions() where function_name = 'lagged'"
    ).fetchone()
    assert lagged is not None
    assert lagged[0].startswith(LAGGED.question)


def test_statements_can_be_run_again(warehouse: duckdb.DuckDBPyConnection) -> None:
    for statement in statements(LIBRARY):
        warehouse.execute(statement)


def test_a_call_passes_only_what_was_given() -> None:
    statement, values = call(LAGGED, {"max_lag_min": "60", "remove_cycle": "yes"})
    assert statement == "select * from correlation.lagged(max_lag_min := ?, remove_cycle := ?)"
    assert values == [60, True]


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({"max_lag": "60"}, "has no parameter 'max_lag'. Did you mean 'max_lag_min'"),
        ({"max_lag_min": "an hour"}, "max_lag_min of correlation.lagged is a whole number, not 'an hour'"),
        ({"max_lag_min": "100000"}, "at least 0 and at most 720; 100000 was given"),
        ({"remove_cycle": "perhaps"}, "remove_cycle of correlation.lagged is true or false"),
        ({"method": "spearmann"}, "is one of pearson, spearman, not 'spearmann'. Did you mean 'spearman'"),
    ],
)
def test_a_wrong_value_is_refused_with_what_is_accepted(given: dict[str, str], message: str) -> None:
    with pytest.raises(QueryError) as error:
        call(LAGGED, given)
    assert message in str(error.value)


def test_a_name_that_is_not_in_the_data_is_refused_with_the_nearest() -> None:
    with pytest.raises(UnknownNameError, match="Did you mean 'temperature'"):
        call(LAGGED, {"measure_a": "temprature"}, known={"measure": ["temperature", "sound"]})


@pytest.mark.parametrize("text", ["2031-05-09T09:30:00Z", "2031-05-09 10:30", "2031-05-09T11:30+02:00"])
def test_a_time_without_an_offset_is_one_of_the_campaigns_clocks(text: str) -> None:
    # In May Lisbon is an hour ahead of UTC.
    _, values = call(LIBRARY.find("event_window.around"), {"moment": text}, zone=ZoneInfo("Europe/Lisbon"))
    assert values == [datetime(2031, 5, 9, 9, 30, tzinfo=UTC)]


def test_a_view_takes_no_parameters() -> None:
    with pytest.raises(QueryError, match="takes no parameters"):
        call(LIBRARY.find("fleet.state"), {"zone": "pit"})


def test_an_unknown_view_is_refused_with_the_nearest() -> None:
    with pytest.raises(UnknownNameError, match=r"Did you mean 'fleet\.state'"):
        LIBRARY.find("fleet.stat")
