"""Analysts' SQL inside the process it runs in: what is answered, and what it cannot be talked into."""

from pathlib import Path

import duckdb
import pyarrow as pa
import pytest

from motelake.engine import open_engine
from motelake.errors import QueryError
from motelake.warehouse.sandbox import answer, check_statement, lock


@pytest.fixture
def engine(tmp_path: Path) -> duckdb.DuckDBPyConnection:
    """A locked engine that may read one part, in a folder that holds a secret beside it."""
    (tmp_path / "secret.txt").write_text("secret")
    (tmp_path / "scratch").mkdir()
    part = tmp_path / "part.parquet"
    engine = open_engine()
    engine.execute(f"copy (select 'M1' as mote, 'temperature' as measure, 20.5 as value) to '{part}'")
    engine.execute(f"create view reading as select * from read_parquet('{part}')")
    engine.execute("create table zone (zone varchar, title varchar)")
    lock(engine, [str(part)], memory="200MB", scratch=tmp_path / "scratch", threads=1)
    return engine


def ask(engine: duckdb.DuckDBPyConnection, text: str) -> pa.Table:
    check_statement(engine, text)
    return answer(engine, text)


@pytest.mark.parametrize(
    "statement",
    [
        "from reading limit 3",
        "with warm as (select * from reading) select count(*) from warm;",
        "with recursive up as (select 1 as n union all select n + 1 from up where n < 5) select * from up",
        "select * from (with warm as (from reading) from warm) union all by name (select 'M2' as mote)",
        "values (1), (2)",
        "describe reading",
        "summarize zone",
        "show tables",
        "pivot reading on measure in ('temperature') using avg(value) group by mote",
        "from reading order by all limit 1 offset 0",
        "/* a remark */ select 1 -- and another",
        "select * from query_table('reading')",
    ],
)
def test_every_way_to_read_is_allowed(engine: duckdb.DuckDBPyConnection, statement: str) -> None:
    assert ask(engine, statement).num_columns > 0


@pytest.mark.parametrize(
    ("statement", "reason"),
    [
        ("", "There is no query"),
        ("-- nothing", "There is no query"),
        ("select 1; select 2", "holds 2 statements"),
        ("select 1; drop table zone", "holds 2 statements"),
        ("/* select */ drop table zone", "this is DROP"),
        ("create table x as select 1", "this is CREATE"),
        ("insert into zone values ('x')", "this is INSERT"),
        ("delete from zone", "this is DELETE"),
        ("copy reading to '/tmp/x.parquet'", "this is COPY"),
        ("attach '/tmp/x.duckdb'", "this is ATTACH"),
        ("export database '/tmp/x'", "this is EXPORT"),
        ("install httpfs", "this is LOAD"),
        ("load httpfs", "this is LOAD"),
        ("pragma database_list", "this is PRAGMA"),
        ("set memory_limit = '100GB'", "this is SET"),
        ("set variable published = '/etc/'", "this is SET"),
        ("reset memory_limit", "this is SET"),
        ("call checkpoint()", "this is CALL"),
        ("use memory", "this is SET"),
        ("explain select 1", "this is EXPLAIN"),
        ("explain analyze copy (select 1) to '/tmp/x.csv'", "this is EXPLAIN"),
        ("prepare q as select 1", "this is PREPARE"),
        ("begin", "this is TRANSACTION"),
        ("pivot reading on measure using avg(value)", "PIVOT needs its values"),
        (
            "with x as (insert into zone values ('x') returning zone) select * from x",
            "a WITH clause holds INSERT",
        ),
        ("with x as (delete from zone returning zone) select * from x", "a WITH clause holds DELETE"),
        (
            "with x as (update zone set title = '' returning zone) select * from x",
            "a WITH clause holds UPDATE",
        ),
        ("with x as (copy (select 1) to '/tmp/x.csv') select * from x", "a WITH clause holds COPY"),
        ("select (with x as (copy (select 1) to '/tmp/x.csv') select 1)", "a WITH clause holds COPY"),
        ("select * from read_text('/etc/passwd')", "Only the published tables and views"),
        ("select * from read_blob('/etc/passwd')", "Only the published tables and views"),
        ("select * from read_csv('/etc/passwd')", "Only the published tables and views"),
        ("select * from glob('/etc/*')", "Only the published tables and views"),
        ("select * from read_parquet('{folder}/*.parquet')", "Only the published tables and views"),
        ("select * from read_text('{folder}/secret.txt')", "Only the published tables and views"),
        (
            "select * from read_text('{folder}/part.parquet/../secret.txt')",
            "Only the published tables and views",
        ),
        ("select * from 's3://bucket/x.parquet'", "Only the published tables and views"),
        (
            "select * from read_parquet('https://example.org/x.parquet')",
            "Only the published tables and views",
        ),
        ("select * from query('copy (select 1) to ''/tmp/x.csv''')", "Expected a single SELECT"),
        ("select * from query('from read_text(''/etc/passwd'')')", "Only the published tables and views"),
        ("select * from query_table('/etc/passwd')", "does not exist"),
        ("select * from sniff_csv('/etc/passwd')", "Only the published tables and views"),
        ("select * from enable_logging(storage => 'file')", "configuration has been locked"),
        ("select * from enable_profiling(save_location => '/tmp/x')", "configuration has been locked"),
        ("select getenv('HOME')", "getenv does not exist"),
        ("select * from statement", "does not exist"),
        ("select * from nowhere", "nowhere does not exist"),
        ("selec 1", "LINE 1: selec 1"),
        ("select\n  moat from reading", "LINE 2:   moat from reading"),
        ("select 'x'::int", "Could not convert string 'x'"),
    ],
)
def test_everything_else_is_refused_with_a_reason(
    engine: duckdb.DuckDBPyConnection, tmp_path: Path, statement: str, reason: str
) -> None:
    before = {file.name for file in tmp_path.iterdir()}, (tmp_path / "part.parquet").read_bytes()
    with pytest.raises(QueryError) as refusal:
        ask(engine, statement.format(folder=tmp_path))
    assert reason in str(refusal.value)
    assert ({file.name for file in tmp_path.iterdir()}, (tmp_path / "part.parquet").read_bytes()) == before


@pytest.mark.parametrize("variable", ["engine", "before"])
def test_variables_of_the_program_are_no_tables(engine: duckdb.DuckDBPyConnection, variable: str) -> None:
    before = engine.sql("select 1")
    assert before is not None
    with pytest.raises(QueryError, match="does not exist"):
        ask(engine, f"select * from {variable}")


def test_what_a_query_may_use_cannot_be_changed(engine: duckdb.DuckDBPyConnection) -> None:
    with pytest.raises(duckdb.Error, match="locked"):
        engine.execute("set memory_limit = '100GB'")
    with pytest.raises(duckdb.Error, match="locked"):
        engine.execute("set enable_external_access = true")
