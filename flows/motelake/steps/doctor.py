"""Looking over an installation: each thing a run needs, how it is, and what to do where it is not well."""

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import partial
from importlib.metadata import PackageNotFoundError, version
from typing import Literal
from uuid import uuid4

from motelake.config import Config
from motelake.core.sentences import counted
from motelake.engine import open_engine
from motelake.errors import DamagedError, LockedError, MotelakeError
from motelake.lake.store import Lake
from motelake.steps.campaign import read
from motelake.steps.deliveries import refuse_strange_lake
from motelake.steps.disk import ROOM_AT_LEAST, disk_use, free_bytes, nearest_folder, written_places
from motelake.steps.read import open_snapshot, read_current
from motelake.steps.report import Report
from motelake.warehouse.store import SCHEMA_VERSION, read_version

PACKAGES = ("motelake", "duckdb", "pyarrow", "fsspec", "prefect", "great-expectations")
STORES = {"s3": "s3fs", "s3a": "s3fs", "gs": "gcsfs", "gcs": "gcsfs", "az": "adlfs", "abfs": "adlfs"}
CLOCK_OFF_S = 60.0

State = Literal["good", "note", "bad"]


@dataclass(frozen=True)
class Finding:
    """One thing that was looked at: good, worth a note, or bad (a run will stop there)."""

    subject: str
    state: State
    sentence: str


@dataclass(frozen=True)
class DoctorReport(Report):
    """Everything that was looked at."""

    findings: tuple[Finding, ...]

    @property
    def needs_attention(self) -> bool:
        """True where something is bad."""
        return any(one.state == "bad" for one in self.findings)


def doctor(config: Config) -> DoctorReport:
    """Looks over versions, lake, store, clock, warehouse and disks; what it writes into a lake it removes."""
    findings = [*_versions(config)]
    lake, opened = _open(config)
    findings.append(opened)
    if lake is not None:
        for look in (_campaign, _writing, _exclusive, _clock, _snapshot, partial(_disk, config=config)):
            findings += _looked(lake, look)
    findings += [*_warehouse(config, lake), *_room(config), *_credentials(config)]
    return DoctorReport(tuple(findings))


def _looked(lake: Lake, look: Callable[[Lake], Iterator[Finding]]) -> list[Finding]:
    try:
        return list(look(lake))
    except (MotelakeError, OSError) as error:
        subject = getattr(look, "func", look).__name__.strip("_")
        return [Finding(subject, "bad", str(error))]


def _versions(config: Config) -> Iterator[Finding]:
    store = STORES.get(config.lake.partition("://")[0])
    found, missing = [f"Python {sys.version.split()[0]}"], []
    for name in (*PACKAGES, *((store,) if store else ())):
        try:
            found.append(f"{name} {version(name)}")
        except PackageNotFoundError:
            missing.append(name)
    yield Finding("versions", "good", ", ".join(found))
    if missing:
        yield Finding("versions", "bad", f"Not installed: {', '.join(missing)}. Install them with pip.")


def _open(config: Config) -> tuple[Lake | None, Finding]:
    try:
        lake = Lake.open(config.lake)
    except MotelakeError as error:
        return None, Finding("lake", "bad", str(error))
    return lake, Finding("lake", "good", f"{lake.url} is there")


def _campaign(lake: Lake) -> Iterator[Finding]:
    campaign = read(lake)
    motes, gateways = len(campaign.register.motes), len(campaign.register.gateways)
    names = f"{counted(motes, 'mote')}, {counted(gateways, 'gateway')}"
    yield Finding("campaign", "good", f"{campaign.title}: {names}, no mistakes")


def _writing(lake: Lake) -> Iterator[Finding]:
    name = f"watch/probe-{uuid4().hex}"
    lake.write(name, b"motelake was here")
    try:
        if lake.read(name) != b"motelake was here":
            yield Finding("writing", "bad", f"What is written to {lake.url} is not what is read back.")
            return
    finally:
        lake.remove(name)
    yield Finding("writing", "good", "objects can be written, read and removed")


def _exclusive(lake: Lake) -> Iterator[Finding]:
    if lake.creates_exclusively():
        yield Finding("exclusive", "good", "of several hosts that stage at once one wins")
    else:
        yield Finding(
            "exclusive", "note",
            "The store has no conditional writes: let one process at a time stage into this lake.",
        )  # fmt: skip


def _clock(lake: Lake) -> Iterator[Finding]:
    """Compares this machine's clock with the store's stamp of an object just written."""
    name = f"watch/probe-{uuid4().hex}"
    lake.write(name, b"what time is it")
    try:
        stamp = lake.modified_at(name)
    finally:
        lake.remove(name)
    if stamp is None:
        yield Finding("clock", "note", "the store does not tell its time; see that the clock is set")
        return
    off_s = (datetime.now(UTC) - stamp).total_seconds()
    if abs(off_s) > CLOCK_OFF_S:
        yield Finding(
            "clock", "bad",
            f"This machine's clock and the store's differ by {off_s:.0f} s. Set the clock (NTP).",
        )  # fmt: skip
    else:
        yield Finding("clock", "good", f"this machine and the store agree within {CLOCK_OFF_S:.0f} s")


def _snapshot(lake: Lake) -> Iterator[Finding]:
    if (current := read_current(lake)) is None:
        yield Finding("snapshot", "note", f"Nothing is published yet: motelake run {lake.url}")
        return
    with closing(open_snapshot(lake)) as snapshot:
        ((minutes,),) = snapshot.execute("select count(*) from zone_minute").fetchall()
    sentence = f"{current.id} of {current.made_at:%Y-%m-%d %H:%M} UTC opens ({minutes:,} zone minutes)"
    yield Finding("snapshot", "good", sentence)


def _disk(lake: Lake, *, config: Config) -> Iterator[Finding]:
    use = disk_use(lake, config)
    areas = ", ".join(f"{area} {size / 1e6:,.1f} MB" for area, size in use.lake.items())
    yield Finding("disk", "good", f"the lake takes {sum(use.lake.values()) / 1e6:,.1f} MB: {areas}")


def _warehouse(config: Config, lake: Lake | None) -> Iterator[Finding]:
    file = config.warehouse
    if not file.is_file():
        yield Finding("warehouse", "note", f"{file} is not there yet; the next run makes it")
        return
    try:
        with closing(open_engine(file, is_read_only=True)) as engine:
            found = read_version(engine)
            if lake is not None and found == str(SCHEMA_VERSION):
                refuse_strange_lake(engine, lake, config)
    except LockedError:
        yield Finding("warehouse", "note", f"{file} is at work in another process; look again later")
        return
    except MotelakeError as error:
        remedy = f" Make it again: motelake rebuild {config.lake}" if isinstance(error, DamagedError) else ""
        yield Finding("warehouse", "bad", f"{error}{remedy}")
        return
    if found is None:
        yield Finding("warehouse", "note", f"{file} holds no tables yet; the next run makes them")
        return
    if found != str(SCHEMA_VERSION):
        versions = f"{file} is of version {found}, this motelake writes {SCHEMA_VERSION}"
        yield Finding("warehouse", "bad", f"{versions}: motelake rebuild {config.lake}")
        return
    if not os.access(file, os.W_OK):
        yield Finding("warehouse", "bad", f"{file} cannot be written by this user. Check who owns it.")
        return
    yield Finding("warehouse", "good", f"{file}, {file.stat().st_size / 1e6:,.1f} MB, version {found}")


def _room(config: Config) -> Iterator[Finding]:
    for words, folder in written_places(config).items():
        there, free = nearest_folder(folder), free_bytes(folder)
        if there is None or free is None:
            yield Finding("room", "bad", f"{folder} for {words} is on no disk. Make it.")
            continue
        if not os.access(there, os.W_OK):
            yield Finding("room", "bad", f"{there} for {words} cannot be written by this user.")
        state: State = "good" if free >= ROOM_AT_LEAST else "bad"
        advice = "" if state == "good" else f". Make room: {ROOM_AT_LEAST / 1e9:.0f} GB is the least"
        yield Finding("room", state, f"{free / 1e9:,.1f} GB free in {there} for {words}{advice}")


def _credentials(config: Config) -> Iterator[Finding]:
    if config.lake.partition("://")[0] not in ("s3", "s3a"):
        return
    where = [name for name in ("AWS_PROFILE", "AWS_ACCESS_KEY_ID") if os.environ.get(name)]
    endpoint = os.environ.get("AWS_ENDPOINT_URL_S3") or os.environ.get("AWS_ENDPOINT_URL")
    sentence = f"credentials from {where[-1] if where else 'the machine (files or its role)'}"
    if endpoint:
        sentence += f", store at {endpoint.rpartition('@')[2]}"
    yield Finding("store", "good", sentence)
