"""A lake with a small warehouse beside it, filled by hand, and a library of two questions."""

import shutil
from collections.abc import Collection
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from uuid import uuid4

import duckdb
import pytest

from motelake.engine import open_engine
from motelake.lake.store import Lake
from motelake.library import Library, read_library
from motelake.library.folder import library_folder
from motelake.steps.publish import PublishReport, publish_warehouse
from motelake.warehouse.store import make_tables

NINE = datetime(2031, 5, 9, 9, tzinfo=UTC)

ABOUT = """
question: "How warm was it?"
grain: one row per mote
parameters: {parameters}
columns:
  mote: {{type: VARCHAR, doc: "the mote"}}
  warmth: {{type: DOUBLE, unit: Cel, doc: "its mean"}}
method: "mean of passed readings"
misleads: "it does not say when"
refresh: {refresh}
"""
WARMTH = "select mote, avg(value) as warmth from reading where flag = 1 group by mote"


@dataclass
class Place:
    """A lake, its open warehouse and a library, with the deeds a test needs."""

    lake: Lake
    engine: duckdb.DuckDBPyConnection
    library: Library

    def hear(self, hour_at: datetime, value: float = 20.0, motes: int = 3, minutes: int = 60) -> None:
        """Adds an hour in which every mote says value once a minute."""
        self.engine.execute(
            """
            insert into burst by name
            select (hash(m, s, ?::timestamptz) >> 1)::bigint as burst, 'M' || m as mote, 0 as boot, s as seq,
                   'G1' as gateway, ?::timestamptz + to_minutes(s) as received_at,
                   received_at as sampled_at, 'fitted' as time_quality, 0.0 as delay_s, 1 as batch
            from range(?) as a(m), range(?) as b(s)
            """,
            [hour_at, hour_at, motes, minutes],
        )
        self.engine.execute(
            """
            insert into reading by name
            select burst, mote, 'temperature' as measure, sampled_at, ? as value, 1 as flag
            from burst where sampled_at >= ? and sampled_at < ?
            """,
            [value, hour_at, hour_at + timedelta(hours=1)],
        )
        self.engine.execute("insert into work.dirty_hour values (?)", [hour_at])

    def publish(self, now: datetime | None = None, refresh: Collection[str] = ("run",)) -> PublishReport:
        """Publishes what the warehouse holds."""
        return publish_warehouse(
            self.lake, self.engine, self.library, lambda _: None, refresh=refresh, now=now
        )

    def names(self, folder: str = "published") -> set[str]:
        """The objects below a folder of the lake."""
        return {info.name for info in self.lake.list(folder)}


@pytest.fixture(scope="session")
def library(tmp_path_factory: pytest.TempPathFactory) -> Library:
    folder = tmp_path_factory.mktemp("library") / "sql"
    shutil.copytree(library_folder() / "tables", folder / "tables")
    entries = {
        "climate/warmth": (WARMTH, "view.sql", "{}", "run"),
        "climate/above": (
            "select * from climate.warmth where warmth > bound",
            "macro.sql",
            "{bound: {type: DOUBLE, default: 10, doc: at least this warm}}",
            "hour",
        ),
        "climate/below": (
            "select * from climate.warmth where warmth < bound",
            "macro.sql",
            "{bound: {type: DOUBLE, doc: at most this warm}}",
            "run",
        ),
        "climate/depth": (
            "select level as mote, if(height_m < 0, error('too deep'), height_m) as warmth from level",
            "view.sql",
            "{}",
            "day",
        ),
    }
    for name, (statement, file, parameters, refresh) in entries.items():
        (folder / name).mkdir(parents=True)
        (folder / name / file).write_text(statement)
        about = ABOUT.format(parameters=parameters, refresh=refresh)
        (folder / name / "about.yaml").write_text(about)
    return read_library(folder)


def make_place(lake: Lake, library: Library, database: Path | str = ":memory:") -> Place:
    lake.write("campaign.toml", b'title = "Depot Fair"\n')
    engine = open_engine(database, threads=1)
    make_tables(engine)
    engine.execute(
        "insert into campaign by name select 'Depot Fair' as title, 'Europe/Lisbon' as time_zone, "
        "'2031-05-09 04:00:00+00' as starts_at, '2031-05-11 00:00:00+00' as ends_at, 60 as burst_period_s, "
        "100 as drift_ppm"
    )
    return Place(lake, engine, library)


@pytest.fixture
def place(tmp_path: Path, library: Library) -> Place:
    (tmp_path / "lake").mkdir()
    return make_place(Lake.at(str(tmp_path / "lake")), library)


@pytest.fixture(scope="module")
def published_place(tmp_path_factory: pytest.TempPathFactory, library: Library) -> Place:
    """A place for tests that only read: one hour of three motes is published."""
    place = make_place(Lake.at(str(tmp_path_factory.mktemp("lake"))), library)
    place.hear(NINE)
    place.publish()
    return place


@pytest.fixture
def memory_place(tmp_path: Path, library: Library) -> Place:
    return make_place(Lake.at(f"memory://{tmp_path.name}"), library)


@pytest.fixture(scope="module")
def store_place(store: str, library: Library) -> Place:
    """A place in an object store for tests that only read: one hour of three motes is published."""
    place = make_place(Lake.at(f"{store}/{uuid4().hex}"), library)
    place.hear(NINE)
    place.publish()
    return place
