"""Runs floor.sql, part by part, in the folder it is started in."""

import sys
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime
from pathlib import Path

import duckdb
from parts import Parts

_COUNTS = """
select
    (select count(*) from burst) as bursts, count(*) as readings, count_if(flag = 3) as suspect,
    count_if(flag = 4) as fail, (select count(*) from mote_minute) as mote_minutes
from reading
"""
_HOURS = "select distinct date_trunc('hour', received_at) as hour_at from burst order by hour_at"


def counts_of(engine: duckdb.DuckDBPyConnection) -> dict[str, int]:
    """What came out, by name."""
    answer = engine.execute(_COUNTS)
    names = [column[0] for column in answer.description or []]
    return {name: int(count) for name, count in zip(names, answer.fetchall()[0], strict=True)}


def statements(part: str) -> list[str]:
    """The statements of one part of floor.sql; its parts begin with `-- == name:`."""
    text = Path(__file__).with_name("floor.sql").read_text(encoding="utf-8")
    (found,) = [one for one in text.split("-- == ")[1:] if one.startswith(f"{part}:")]
    return [one.query for one in duckdb.extract_statements("-- " + found)]


def publish(engine: duckdb.DuckDBPyConnection, hour_at: datetime) -> None:
    """Writes one hour of all tables; two hours at once leave no core idle."""
    engine.execute("set TimeZone = 'UTC'")
    engine.execute("use floor")
    engine.execute("set variable hour_at = $hour_at", {"hour_at": hour_at})
    for statement in statements("publish"):
        engine.execute(statement)


def main(starts_at: str, ends_at: str) -> None:
    """Does the work and tells what it cost."""
    parts = Parts()
    engine = duckdb.connect(config={"memory_limit": "3GB"})
    engine.execute("set TimeZone = 'UTC'")
    for name, value in (("starts_at", starts_at), ("ends_at", ends_at)):
        engine.execute(f"set variable {name} = timestamptz '{value}'")
    for part in ("stage", "load"):
        with parts.part(part):
            for statement in statements(part):
                engine.execute(statement)
    with parts.part("publish"), ThreadPoolExecutor(2) as pool:
        hours = [hour_at for (hour_at,) in engine.execute(_HOURS).fetchall()]
        list(pool.map(lambda hour_at: publish(engine.cursor(), hour_at), hours))
    with parts.part("ask"):
        (ask,) = statements("ask")
        correlations = [r for _, r in engine.execute(ask).fetchall()]
    parts.tell(counts_of(engine) | {"r": correlations})


if __name__ == "__main__":
    main(*sys.argv[1:3])
