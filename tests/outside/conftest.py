"""A campaign in memory whose minutes a test puts in, and rows of the published values beside the tests."""

import csv
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import duckdb
import numpy as np
import pyarrow as pa
import pytest
from numpy.typing import NDArray
from scipy.signal import lfilter

from motelake.engine import open_engine
from motelake.library import read_library, statements, table_statements

STANDARDS = Path(__file__).parent / "standards"
START = datetime(2031, 5, 9, tzinfo=UTC)
Series = NDArray[np.float64]


@dataclass(frozen=True)
class House:
    """Zones of one storey; minutes are put in as series, and questions asked once it is furnished."""

    warehouse: duckdb.DuckDBPyConnection
    starts_at: datetime = START

    def put(self, zone: str, measure: str, values: Series, mote: str | None = None) -> None:
        """One mote in a zone whose minutes from the start on are the values; NaN is a missing minute."""
        minutes = pa.table({"number": np.arange(len(values)), "value": np.asarray(values, dtype=float)})
        self.warehouse.register("minutes", minutes)
        self.warehouse.execute(
            "insert into mote_minute by name select $1 as mote, $2 as zone, $3 as measure,"
            " $4::timestamptz + to_minutes(number::integer) as minute_at,"
            " 1 as n, 0 as left_out, 60.0 as covered_s, value"
            " from minutes where not isnan(value)",
            [mote or f"in-{zone}", zone, measure, self.starts_at],
        )

    def happen(self, event: str, zone: str, from_minute: int, to_minute: int, kind: str = "talk") -> None:
        """An event of the programme, by minutes from the start."""
        self.warehouse.execute(
            "insert into programme_event by name"
            " select $1 as event, $2 as zone, $3 as kind, $4 as starts_at, $5 as ends_at",
            [event, zone, kind, *(self.starts_at + timedelta(minutes=n) for n in (from_minute, to_minute))],
        )

    def furnish(self, kind: str = "level", roles: Mapping[str, str] | None = None) -> None:
        """The register, the references and the zones' minutes that go with the motes' minutes."""
        self.warehouse.execute(
            "insert into measure by name select distinct measure, $1 as kind from mote_minute", [kind]
        )
        for measure, role in (roles or {}).items():
            self.warehouse.execute("update measure set role = $2 where measure = $1", [measure, role])
        self.warehouse.execute(
            "insert into zone by name select distinct zone, 'low' as level from mote_minute"
        )
        self.warehouse.execute("insert into level values ('low', 0.0)")
        self.warehouse.execute(
            "insert into mote_reference by name"
            " select mote, measure, $1::timestamptz as from_at, median(value) as value"
            " from mote_minute group by mote, measure",
            [self.starts_at],
        )
        self.warehouse.execute(
            "insert into mote_place by name select distinct mote, $1::timestamptz as from_at,"
            " 'infinity'::timestamptz as to_at, zone, 'low' as level from mote_minute",
            [self.starts_at],
        )
        self.warehouse.execute(
            "insert into zone_minute by name select zone, 'low' as level, measure, minute_at,"
            " count(*) as motes, count(*) as motes_expected, count(*) as n, avg(value) as value"
            " from mote_minute group by zone, measure, minute_at"
        )

    def ask(self, question: str, values: Sequence[Any] = ()) -> list[tuple[Any, ...]]:
        """The rows of an answer."""
        return self.warehouse.execute(question, list(values)).fetchall()


@dataclass(frozen=True)
class Statistics:
    """The functions and macros of the library, on values given with the question."""

    engine: duckdb.DuckDBPyConnection

    def rows(self, question: str, *values: Any) -> list[tuple[Any, ...]]:
        """The rows of an answer."""
        return self.engine.execute(question, list(values)).fetchall()

    def ask(self, expression: str, *values: Any) -> Any:
        """The value of an expression."""
        ((value,),) = self.rows(f"select {expression}", *values)
        return value

    def lags(
        self, xs: Sequence[float], ys: Sequence[float], lag: int, method: str = "pearson"
    ) -> list[dict[str, Any]]:
        """The row of each lag of two series that begin in the same minute."""
        answer = self.engine.execute(
            "select * from statistics.cross_correlation("
            "minutes_a := ?, values_a := ?, minutes_b := ?, values_b := ?, max_lag_min := ?, by_method := ?)",
            [list(range(len(xs))), list(xs), list(range(len(ys))), list(ys), lag, method],
        )
        names = [column[0] for column in answer.description or []]
        return [dict(zip(names, row, strict=True)) for row in answer.fetchall()]

    def correlation(self, xs: Sequence[float], ys: Sequence[float]) -> float | None:
        """The correlation of two columns."""
        ((value,),) = self.rows(
            "select statistics.correlation(x, y)"
            " from (select unnest(?::double[]) as x, unnest(?::double[]) as y)",
            list(xs),
            list(ys),
        )
        return None if value is None else float(value)


@pytest.fixture(scope="session")
def statistics() -> Iterator[Statistics]:
    """The library without any data."""
    library = read_library()
    engine = open_engine()
    for statement in [*table_statements(library), *statements(library)]:
        engine.execute(statement)
    yield Statistics(engine)
    engine.close()


@pytest.fixture
def house(warehouse: duckdb.DuckDBPyConnection) -> House:
    """An empty house of four days in May."""
    warehouse.execute(
        "insert into campaign by name"
        " select 'x' as title, 'UTC' as time_zone, $1 as starts_at, $2 as ends_at,"
        " 60.0 as burst_period_s, 100.0 as drift_ppm",
        [START, START + timedelta(days=4)],
    )
    return House(warehouse)


@pytest.fixture(scope="session")
def remembering() -> Callable[[np.random.Generator, float, int], Series]:
    """Makes a series of unit variance that keeps a share of its value from minute to minute."""

    def remembering(random: np.random.Generator, memory: float, length: int) -> Series:
        made: Series = lfilter([1], [1, -memory], random.standard_normal(length + 600))[600:]
        made *= np.sqrt(1 - memory**2)
        return made

    return remembering


@pytest.fixture(scope="session")
def columns_of() -> Callable[..., list[list[float]]]:
    """Reads columns of one file of published values as numbers."""

    def columns_of(name: str, *columns: str) -> list[list[float]]:
        rows = _rows_of(name)
        return [[float(row[column]) for row in rows] for column in columns]

    return columns_of


def _rows_of(name: str) -> list[dict[str, str]]:
    with (STANDARDS / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))
