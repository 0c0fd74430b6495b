"""The watch on rehearsed faults, played minute by minute: gateway outages are found, and little else.

The seed was not used while the watch was written. A day of 500 motes, too long for every run of the tests,
is described in DEVELOPERS.md.
"""

import csv
import shutil
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import NamedTuple

import pytest

from motelake.config import Config
from motelake.core.alarms import Alarm
from motelake.core.instants import parse_instant
from motelake.lake.store import Lake
from motelake.rehearsal import Faults, Plan, rehearse
from motelake.steps import campaign
from motelake.steps.watch import watch

SEED = 2031
BEFORE, AFTER = timedelta(minutes=15), timedelta(minutes=12)
MINUTE = timedelta(minutes=1)


def arrival_of(path: Path) -> datetime:
    """When an object is there: at the end of the minute that its name tells."""
    at = datetime.strptime(f"{path.parent.name} {path.name[:4]}", "%Y-%m-%d %H%M").replace(tzinfo=UTC)
    return at + MINUTE


class Incident(NamedTuple):
    """Something that went wrong, as the truth has it."""

    kind: str
    subject: str
    from_at: datetime
    to_at: datetime


class Played:
    """A rehearsed day, of which spells are delivered and watched."""

    def __init__(self, folder: Path) -> None:
        faults = Faults(gateway_deaths=1, gateway_flushes=1)
        plan = Plan(motes=40, days=1, seed=SEED, delivery_min=1, compression_level=1, faults=faults)
        rehearse(folder / "whole", plan=plan)
        shutil.copytree(folder / "whole", folder / "lake", ignore=shutil.ignore_patterns("raw"))
        self.lake = Lake.open(str(folder / "lake"))
        self.campaign = campaign.read(self.lake)
        self.config = Config(str(folder / "lake"), folder / "none.duckdb", "500MB", 1)
        self.waiting = sorted((folder / "whole" / "raw").rglob("*.gz"), key=arrival_of)
        self.folder = folder
        with (folder / "whole-truth" / "incidents.csv").open(newline="") as truth:
            self.incidents = [
                Incident(
                    row["kind"], row["subject"], parse_instant(row["from_at"]), parse_instant(row["to_at"])
                )
                for row in csv.DictReader(truth)
            ]
        self.news: list[Alarm] = []
        self.minutes = 0

    @property
    def outages(self) -> list[Incident]:
        """The gateways' outages in order of time."""
        some = [one for one in self.incidents if one.kind in ("gateway_dead", "gateway_flush")]
        return sorted(some, key=lambda one: one.from_at)

    def play(self, now: datetime, until: datetime) -> None:
        """Delivers and watches a spell; what came before is not delivered, as if the watch began with it."""
        self.lake.remove("watch/state.json")
        shutil.rmtree(self.folder / "lake" / "raw", ignore_errors=True)
        self.waiting = [path for path in self.waiting if arrival_of(path) >= now]
        while now < until:
            while self.waiting and arrival_of(self.waiting[0]) <= now:
                path = self.waiting.pop(0)
                target = self.folder / "lake" / path.relative_to(self.folder / "whole")
                target.parent.mkdir(parents=True, exist_ok=True)
                path.replace(target)
            report = watch(self.lake, self.campaign, self.config, lambda _: None, now=now)
            self.news += [alarm for alarm in report.news if alarm.state == "open"]
            now += MINUTE
            self.minutes += 1


@pytest.fixture(scope="module")
def played(tmp_path_factory: pytest.TempPathFactory) -> Played:
    played = Played(tmp_path_factory.mktemp("rehearsed"))
    assert len(played.outages) == 2
    for one in played.outages:
        begin = one.from_at.replace(second=0, microsecond=0)
        played.play(begin - BEFORE, begin + AFTER)
    return played


def test_every_gateway_outage_is_told_within_two_periods_a_minute_and_the_delivery(played: Played) -> None:
    period_s = played.campaign.burst_period_s
    for one in played.outages:
        (alarm,) = [found for found in played.news if (found.kind, found.subject) == ("gateway", one.subject)]
        waited_s = (alarm.opened_at - one.from_at).total_seconds()
        assert 0 < waited_s <= 2 * period_s + 60 + MINUTE.total_seconds()


def test_nothing_is_told_that_did_not_happen(played: Played) -> None:
    """At most one false alarm a day at 500 motes; here about an hour at 40, so none."""
    false = [alarm for alarm in played.news if not happened(played, alarm)]
    assert false == []
    assert played.minutes >= 50


def happened(played: Played, alarm: Alarm) -> bool:
    """True where something of the kind was going on with the subject when the alarm opened."""
    kinds = {
        "gateway": ("gateway_dead", "gateway_flush"),
        "delay": ("gateway_flush",),
        "rejects": ("garbage",),
        "zone": ("power_cut",),
        "mains": ("power_cut",),
        "mote": ("unplugged", "battery_flat", "removed", "found", "moved", "shut_in"),
    }[alarm.kind]
    return any(
        one.kind in kinds
        and one.subject == alarm.subject
        and one.from_at <= alarm.opened_at
        and alarm.since_at <= one.to_at
        for one in played.incidents
    )
