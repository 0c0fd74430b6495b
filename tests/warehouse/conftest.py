"""A warehouse in memory with a small campaign, and hearings made by hand."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import duckdb
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from motelake.core.campaign import Campaign, Limits
from motelake.core.manifests import Lines, Manifest, StagedObject, StagingInputs
from motelake.core.register import Measure, Mote, Placement, Register, Zone
from motelake.engine import open_engine
from motelake.warehouse.fingerprint import fingerprint
from motelake.warehouse.load import Delivery, Judged, State, load_deliveries
from motelake.warehouse.store import make_tables

NINE = datetime(2031, 5, 9, 9, tzinfo=UTC)
PERIOD_S = 20.0
Hearing = dict[str, Any]
KEYS = {
    "burst": "burst",
    "reading": "burst, measure",
    "mote_minute": "mote, measure, minute_at",
    "zone_minute": "zone, measure, minute_at",
    "work.ten_minute": "mote, measure, bucket_at",
    "work.odd": "mote, measure, bucket_at",
}
"""What no two rows of a table share, whatever was loaded in which order."""


def measure(name: str, kind: str = "level", **changes: Any) -> Measure:
    empty = dict.fromkeys(
        ("title", "role", "span_low", "span_high", "usual_low", "usual_high", "max_step", "flat_after_min")
    )
    return Measure(**{"measure": name, "unit": "1", "kind": kind, **empty, **changes})


MEASURES = (
    measure("temperature", unit="Cel", span_low=-40, span_high=85, max_step=3),
    measure("humidity", unit="%RH"),
    measure("sound", "decibel", unit="dB"),
    measure("steps", "count"),
    measure("doors", "total"),
)


def mote(name: str, zone: str | None = "hall", **changes: Any) -> Mote:
    empty = dict.fromkeys(("network", "level", "x_m", "y_m", "power", "installed_at", "removed_at", "note"))
    return Mote(**{"mote": name, "zone": zone, "kit": "temperature+humidity+sound+steps", **empty, **changes})


def depot(motes: Iterable[Mote], **changes: Any) -> Campaign:
    register = Register(
        motes=tuple(motes),
        gateways=(),
        zones=tuple(Zone(zone, "track", None, None, None, None, None) for zone in ("hall", "pit")),
        measures=changes.pop("measures", MEASURES),
        placements=tuple(changes.pop("placements", ())),
    )
    plan: dict[str, Any] = {
        "title": "Depot Fair",
        "time_zone": "Europe/Lisbon",
        "starts_at": NINE - timedelta(hours=9),
        "ends_at": NINE + timedelta(days=3),
        "burst_period_s": PERIOD_S,
        "drift_ppm": 100.0,
        "levels": {"track": 3.1},
        "baseline": None,
        "open_hours": None,
        "limits": Limits(),
    }
    return Campaign(**plan | changes, register=register, programme=(), streams=(), context=())


def heard(
    seq: int | None, at_s: float, mote: str = "M1", gateway: str | None = "G1", **readings: float | None
) -> Hearing:
    """One hearing, at_s seconds after nine; battery_v and rssi_dbm may be among the readings."""
    beside = {name: readings.pop(name, None) for name in ("battery_v", "rssi_dbm")}
    return {
        "mote": mote,
        "seq": seq,
        "gateway": gateway,
        "received_at": NINE + timedelta(microseconds=round(at_s * 1e6)),
        **beside,
        **{f"reading_{name}": value for name, value in readings.items()},
    }


def course(seqs: Iterable[int], begins_s: float = 0.0, delay_s: float = 0.1, **more: Any) -> list[Hearing]:
    """Bursts of one boot that starts begins_s after nine, each with a temperature of its own."""
    return [
        heard(seq, begins_s + seq * PERIOD_S + delay_s, **{"temperature": 20 + seq % 7 / 8, **more})
        for seq in seqs
    ]


def _schema(measures: Iterable[Measure]) -> pa.Schema:
    return pa.schema(
        [("object", pa.string()), ("line", pa.int64()), ("mote", pa.string()), ("seq", pa.int64())]
        + [("gateway", pa.string()), ("received_at", pa.timestamp("us", tz="UTC"))]
        + [("rssi_dbm", pa.float64()), ("battery_v", pa.float64())]
        + [(f"reading_{one.measure}", pa.float64()) for one in measures]
    )


@dataclass
class Hall:
    """A warehouse in memory and what was delivered to it."""

    campaign: Campaign
    folder: Path
    engine: duckdb.DuckDBPyConnection
    deliveries: int = 0
    heard = staticmethod(heard)
    course = staticmethod(course)
    said: list[str] = field(default_factory=list)

    def load(self, *objects: Sequence[Hearing], state: State = "loaded", name: str | None = None) -> None:
        """Delivers each list of hearings as a raw object of one batch, in one run."""
        self.deliveries += 1
        names = [name or f"raw/{self.deliveries}-{position}.jsonl" for position in range(len(objects))]
        rows = [
            {"object": name, "line": line} | hearing
            for name, hearings in zip(names, objects, strict=True)
            for line, hearing in enumerate(hearings, start=1)
        ]
        file = self.folder / f"{self.deliveries}-{len(list(self.folder.iterdir()))}.parquet"
        pq.write_table(pa.Table.from_pylist(rows, _schema(self.campaign.register.measures)), file)
        self._run(
            [
                Delivery(
                    self._manifest(names, objects, file),
                    [Judged(staged, state) for staged in self._staged(names, objects)],
                    lambda: [str(file)],
                    [],
                )
            ]
        )

    def amend(self, **changes: Any) -> None:
        """Runs again with a campaign or a register that was changed."""
        register = {name: changes.pop(name) for name in tuple(changes) if name in Register.__slots__}
        self.campaign = replace(
            self.campaign, **changes, register=replace(self.campaign.register, **register)
        )
        self._run([])

    def rows(self, query: str) -> list[Any]:
        """The rows of a query; of one column, its values."""
        found = self.engine.execute(query).fetchall()
        return [row[0] for row in found] if found and len(found[0]) == 1 else found

    def fingerprint(self) -> dict[str, str]:
        """The content, table by table."""
        return fingerprint(self.engine)

    def _run(self, deliveries: list[Delivery]) -> None:
        load_deliveries(self.engine, self.campaign, deliveries, self.said.append, {})
        for table, key in KEYS.items():
            twins = self.rows(f"select count(*) - count(distinct ({key})) from {table}")
            assert twins == [0], f"{twins[0]} rows of {table} share their {key}"

    def _staged(self, names: Sequence[str], objects: Sequence[Sequence[Hearing]]) -> list[StagedObject]:
        return [
            StagedObject(name, 1, None, f"{name}-{len(hearings)}", Lines(len(hearings), len(hearings), 0))
            for name, hearings in zip(names, objects, strict=True)
        ]

    def _manifest(self, names: Sequence[str], objects: Sequence[Sequence[Hearing]], file: Path) -> Manifest:
        plan = self.campaign
        inputs = StagingInputs(1, plan.starts_at, plan.ends_at, 120, 1, 1, {}, ())
        return Manifest(
            self.deliveries,
            str(self.deliveries),
            None,
            NINE,
            inputs,
            self._staged(names, objects),
            [str(file)],
        )


@dataclass(frozen=True)
class Build:
    """Builds halls, and the rows of their registers."""

    folders: pytest.TempPathFactory
    mote = staticmethod(mote)
    measure = staticmethod(measure)
    measures = MEASURES

    def __call__(self, *motes: Mote, **changes: Any) -> Hall:
        engine = open_engine(threads=1)
        engine.execute("set preserve_insertion_order = false")
        make_tables(engine)
        return Hall(depot(motes or (mote("M1"),), **changes), self.folders.mktemp("hall"), engine)

    @staticmethod
    def placement(name: str, from_s: float, zone: str | None, how: str = "moved") -> Placement:
        """Where a mote was from from_s seconds after nine."""
        return Placement(name, NINE + timedelta(seconds=from_s), None, zone, None, None, how, None)


@pytest.fixture
def build(tmp_path_factory: pytest.TempPathFactory) -> Build:
    """Builds halls from motes and changes of the campaign."""
    return Build(tmp_path_factory)


@pytest.fixture
def hall(build: Build) -> Hall:
    """A hall with the motes M1 to M4 in one zone."""
    return build(*(mote(f"M{number}") for number in range(1, 5)))
