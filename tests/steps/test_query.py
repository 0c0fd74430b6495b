"""Analysts' SQL: what is answered, what is refused, and what it cannot be talked into."""

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from motelake.config import Config
from motelake.errors import QueryError
from motelake.steps.query import run_sql
from motelake.steps.read import find_current

if TYPE_CHECKING:
    from tests.steps.conftest import Place


@pytest.fixture
def place(published_place: "Place") -> "Place":
    return published_place


@pytest.fixture
def config(place: "Place", tmp_path: Path) -> Config:
    return Config(
        lake=place.lake.url, warehouse=tmp_path / "lake.duckdb", sql_memory="200MB", sql_seconds=20, threads=1
    )


def test_a_select_is_answered_while_the_writer_holds_the_warehouse(place: "Place", config: Config) -> None:
    rows = run_sql(place.lake, "select mote, warmth from climate.above() order by mote", config).to_pylist()
    assert rows == [{"mote": f"M{number}", "warmth": 20.0} for number in range(3)]


def test_an_answer_may_be_of_any_type(place: "Place", config: Config) -> None:
    answer = run_sql(
        place.lake, "select sum(1) as s, now() as at, [1] as l, {'a': 1} as r, null as n", config
    )
    assert answer.column_names == ["s", "at", "l", "r", "n"]


@pytest.mark.parametrize(
    "statement",
    [
        "copy (select 1 as x) to '{part}'",
        "copy (select 1 as x) to '{part}' (use_tmp_file false)",
        "explain analyze copy (select 1 as x) to '{part}' (use_tmp_file false)",
        "with x as (copy (select 1 as x) to '{part}' (use_tmp_file false)) select * from x",
        "from query($$with x as (copy (select 1) to '{part}' (use_tmp_file false)) select * from x$$)",
    ],
)
def test_a_published_part_cannot_be_written_over(place: "Place", config: Config, statement: str) -> None:
    part = place.lake.local_path(f"published/{find_current(place.lake).parts['reading'][0]}")
    before = part.read_bytes()
    with pytest.raises(QueryError):
        run_sql(place.lake, statement.format(part=part), config)
    assert part.read_bytes() == before


@pytest.mark.parametrize(
    "statement",
    [
        "select count(distinct md5(range::varchar)) from range(20000000)",
        "select list(range) from range(100000000)",
        "select string_agg(repeat('x', 1000000)) from range(10000)",
        "select * from range(200000000)",
    ],
)
def test_a_query_that_wants_too_much_memory_is_told_so(
    place: "Place", config: Config, statement: str
) -> None:
    with pytest.raises(QueryError, match="MOTELAKE_SQL_MEMORY"):
        run_sql(place.lake, statement, config)


@pytest.mark.parametrize(
    "statement",
    [
        "with recursive up as (select 1 as n union all select n from up) select count(*) from up",
        "select count(*) from range(99999) as a(x), range(99999) as b(y), range(99) as c(z) where x * y = z",
        "select length(regexp_replace(repeat('a', 500000000), '(a*)*b', ''))",
    ],
)
def test_a_query_that_does_not_end_is_stopped_and_told_the_limit(
    place: "Place", config: Config, statement: str
) -> None:
    with pytest.raises(QueryError, match=r"stopped after 0.5 seconds.*MOTELAKE_SQL_SECONDS"):
        run_sql(place.lake, statement, replace(config, sql_seconds=0.5))


def test_nothing_is_left_of_a_query(place: "Place", config: Config, tmp_path: Path) -> None:
    (tmp_path / "work").mkdir()
    run_sql(
        place.lake,
        "select count(*) from (select range as x from range(10000000) order by hash(range))",
        replace(config, work_folder=tmp_path / "work"),
    )
    assert list((tmp_path / "work").iterdir()) == []


def test_a_module_in_the_folder_one_stands_in_is_not_run(
    place: "Place", config: Config, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "duckdb.py").write_text("raise SystemExit('run')")
    monkeypatch.chdir(tmp_path)
    assert run_sql(place.lake, "select 1 as one", config).to_pylist() == [{"one": 1}]
