"""A small register, and objects read by it from bytes in memory."""

import io
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import duckdb
import pytest

from motelake.engine import open_engine
from motelake.formats.objects import RawObject, parse_objects
from motelake.formats.plan import ObjectCount, ObjectRefused, ReadingPlan
from motelake.formats.staging import Staging

Read = Callable[..., "Outcome"]

PLAN = ReadingPlan(
    measures={"temperature": "Cel", "sound": "dB", "air_pressure": "hPa"},
    motes=frozenset({"M1", "M2", "17", "true", "pit:7"}),
    starts_at=datetime(2031, 5, 9, 4, tzinfo=UTC),
    accepts_until=datetime(2031, 5, 11, 2, tzinfo=UTC),
    bytes_per_object=2**24,
    bytes_per_line=2000,
)


class Outcome:
    """What parsing one object gave: its account and the staged rows in order of their lines."""

    def __init__(self, engine: duckdb.DuckDBPyConnection, account: ObjectCount | ObjectRefused) -> None:
        self.account = account
        self.hearings = _rows(engine, "select * from staged_hearing order by line")
        self.line_rejects = _rows(engine, "select line, reason, mote from staged_line_reject order by line")
        self.reading_rejects = _rows(
            engine, "select line, mote, measure, reason from staged_reading_reject order by line, measure"
        )

    @property
    def count(self) -> ObjectCount:
        assert isinstance(self.account, ObjectCount)
        return self.account


def _rows(engine: duckdb.DuckDBPyConnection, query: str) -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = engine.sql(query).to_arrow_table().to_pylist()
    return rows


def raw_object(name: str, content: bytes) -> RawObject:
    """An object with this content."""
    return RawObject(name, lambda: io.BytesIO(content))


@pytest.fixture(scope="session")
def engine() -> duckdb.DuckDBPyConnection:
    return open_engine(threads=1)


@pytest.fixture
def plan() -> ReadingPlan:
    return PLAN


@pytest.fixture
def read(engine: duckdb.DuckDBPyConnection, plan: ReadingPlan) -> Read:
    """Parses one object given by name and content."""

    def read_object(content: bytes, name: str = "raw/G1.jsonl", by: ReadingPlan = plan) -> Outcome:
        with Staging(engine, by) as staging:
            accounts = parse_objects([raw_object(name, content)], staging)
        return Outcome(engine, accounts[name])

    return read_object
