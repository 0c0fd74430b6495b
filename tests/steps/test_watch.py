"""The watch on a small lake: what it tells, once, and what it leaves for the next look."""

import json
import shutil
import sys
import threading
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from typing import Any

import pytest

from motelake.errors import InputError, SurroundingsError
from motelake.steps.check import check
from motelake.steps.decide import decide
from motelake.steps.notify import notify
from motelake.steps.stage import stage
from motelake.steps.watch import WatchReport, watch

BEGIN = datetime(2031, 5, 9, 4, tzinfo=UTC)
MOTES = tuple(f"M{number}" for number in range(1, 9))
PER_MINUTE = 3


def nobody(_sentence: str) -> None:
    return None


@dataclass
class Watched:
    """A lake of two networks of four motes, watched every minute while it is delivered."""

    fair: Any
    minute: int = 0
    told: list[tuple[int, str, str, str]] = field(default_factory=list)

    def live(self, minutes: int, *, silent: tuple[str, ...] = (), down: tuple[str, ...] = ()) -> None:
        """Lets minutes pass: silent motes send nothing, gateways that are down deliver nothing."""
        for _ in range(minutes):
            for gateway, motes in (("G1", MOTES[:4]), ("G2", MOTES[4:])):
                lines = [
                    self.fair.line(seq, mote, gateway=gateway)
                    for seq in range(self.minute * PER_MINUTE, (self.minute + 1) * PER_MINUTE)
                    for mote in motes
                    if mote not in silent
                ]
                if gateway not in down and lines:
                    self.fair.deliver(f"{self.minute:04}-{gateway}.jsonl", *lines)
            self.minute += 1
            self.look()

    def look(self) -> WatchReport:
        """Looks at the end of this minute."""
        now = BEGIN + timedelta(minutes=self.minute)
        report = watch(self.fair.lake, self.fair.campaign, self.fair.config, nobody, now=now)
        self.told += [(self.minute, one.state, one.kind, one.subject) for one in report.news]
        return report

    def take_told(self) -> list[tuple[int, str, str, str]]:
        """What was told since this was asked last."""
        told, self.told = self.told, []
        return told


@pytest.fixture
def watched(fair: Any) -> Watched:
    motes = "".join(
        f"{mote},{'north' if mote in MOTES[:4] else 'south'},temperature,track,hall,,,mains,,,\n"
        for mote in MOTES
    )
    header = fair.lake.read("register/motes.csv").decode().partition("\n")[0]
    fair.lake.write("register/motes.csv", f"{header}\n{motes}".encode())
    gateways = fair.lake.read("register/gateways.csv").decode() + "G2,south,track,hall,,,,\n"
    fair.lake.write("register/gateways.csv", gateways.encode())
    place = Watched(fair)
    place.live(8)
    assert place.take_told() == []
    return place


ONE_LAKE = pytest.mark.parametrize("fair", ["memory"], indirect=True)


def test_a_gateway_that_falls_silent_is_told_once_and_its_motes_are_not(watched: Watched) -> None:
    watched.live(12, down=("G2",))
    assert watched.take_told() == [(10, "open", "gateway", "G2")]
    watched.live(8)
    assert watched.take_told() == [(26, "closed", "gateway", "G2")]


@ONE_LAKE
def test_a_mote_is_told_after_ten_periods(watched: Watched) -> None:
    watched.live(8, silent=("M3",))
    ((minute, *told),) = watched.take_told()
    assert told == ["open", "mote", "M3"]
    assert minute - 8 <= 10 * 20 / 60 + 2, (
        "ten periods, a delivery of a minute, and a minute for late objects"
    )
    watched.live(7)
    assert [told[1:] for told in watched.take_told()] == [("closed", "mote", "M3")]


@ONE_LAKE
def test_a_clock_that_runs_ahead_is_told_and_makes_nobody_else_silent(watched: Watched) -> None:
    ahead = [watched.fair.line(3000 + seq, "M5", gateway="G2") for seq in range(3)]
    watched.fair.deliver("ahead.jsonl", *ahead)
    watched.live(2)
    assert [told[1:] for told in watched.take_told()] == [("open", "clock", "G2")]
    assert watched.look().heard_until < BEGIN + timedelta(minutes=watched.minute)  # type: ignore[operator]
    stage(watched.fair.lake, watched.fair.campaign, watched.fair.config, nobody)
    watched.look()
    watched.live(8)
    assert [told[1:] for told in watched.take_told()] == [("closed", "clock", "G2")]


@ONE_LAKE
def test_where_all_stamps_lie_ahead_the_delivery_is_not_called_stalled(fair: Any) -> None:
    fair.deliver("ahead.jsonl", *(fair.line(3000 + seq) for seq in range(3)))
    report = watch(fair.lake, fair.campaign, fair.config, nobody, now=BEGIN + timedelta(hours=1))
    told = {alarm.kind: alarm.sentence for alarm in report.alarms if alarm.kind in ("clock", "delivery")}
    assert list(told) == ["clock"]
    assert "3 bursts of G1 came with a stamp of the future, up to 2031-05-09 20:40:40 UTC" in told["clock"]


@ONE_LAKE
def test_a_zone_that_goes_dark_while_its_gateways_speak_is_told_as_one(watched: Watched) -> None:
    watched.fair.lake.write(
        "register/zones.csv", watched.fair.lake.read("register/zones.csv") + b"shed,track,Shed,hall,,,\n"
    )
    rows = watched.fair.lake.read("register/motes.csv").decode()
    for mote in ("M1", "M2", "M5", "M6"):
        network = "north" if mote in MOTES[:4] else "south"
        row = f"{mote},{network},temperature,track,"
        rows = rows.replace(f"{row}hall", f"{row}shed")
    watched.fair.lake.write("register/motes.csv", rows.encode())
    watched.live(8, silent=("M1", "M2", "M5", "M6"))
    assert [told[1:] for told in watched.take_told()] == [("open", "zone", "shed")]


@ONE_LAKE
def test_when_nothing_arrives_at_all_it_is_one_alarm(watched: Watched) -> None:
    watched.live(10, down=("G1", "G2"))
    assert watched.take_told() == [(11, "open", "delivery", "stalled")]
    watched.live(7)
    assert [told[1:] for told in watched.take_told()] == [("closed", "delivery", "stalled")]


@ONE_LAKE
def test_an_object_that_comes_a_little_later_than_others_is_no_silence(watched: Watched) -> None:
    for turn in range(4):
        for gateway in ("G1", "G2"):
            held_back = turn % 2 == 0 and gateway == "G2"
            minutes = [watched.minute] if not held_back else []
            minutes += [watched.minute - 1] if gateway == "G2" and turn % 2 else []
            for minute in minutes:
                motes = MOTES[:4] if gateway == "G1" else MOTES[4:]
                seqs = range(minute * PER_MINUTE, (minute + 1) * PER_MINUTE)
                lines = [watched.fair.line(seq, mote, gateway=gateway) for seq in seqs for mote in motes]
                watched.fair.deliver(f"{minute:04}-{gateway}.jsonl", *lines)
        watched.minute += 1
        watched.look()
    assert watched.take_told() == []


@ONE_LAKE
def test_after_the_end_of_the_campaign_nobody_is_silent(watched: Watched) -> None:
    watched.minute = 60 * 44 + 30
    watched.look()
    assert watched.take_told() == []


@ONE_LAKE
def test_a_jump_of_refused_lines_is_told(watched: Watched) -> None:
    watched.fair.deliver("broken-G1.jsonl", *[watched.fair.line(24, gateway="G1")] * 60, *["broken"] * 40)
    watched.look()
    assert [told[1:] for told in watched.take_told()] == [("open", "rejects", "G1")]


@ONE_LAKE
def test_a_gateway_that_delivers_its_store_is_told_as_late(watched: Watched) -> None:
    watched.live(30, down=("G2",))
    stamp = (BEGIN + timedelta(minutes=watched.minute, seconds=1)).isoformat()
    lines = [
        watched.fair.line(seq, mote, gateway="G2", received_at=stamp)
        for seq in range(8 * PER_MINUTE, watched.minute * PER_MINUTE)
        for mote in MOTES[4:]
    ]
    watched.take_told()
    watched.fair.deliver("store-G2.jsonl", *lines)
    watched.live(1)
    assert [told[1:] for told in watched.take_told()] == [("open", "delay", "G2")]


@pytest.mark.parametrize("fair", ["folder", "store"], indirect=True)
def test_staging_between_two_looks_changes_nothing(watched: Watched) -> None:
    stage(watched.fair.lake, watched.fair.campaign, watched.fair.config, nobody)
    watched.live(3, down=("G2",))
    stage(watched.fair.lake, watched.fair.campaign, watched.fair.config, nobody)
    watched.live(3, down=("G2",))
    assert watched.take_told() == [(10, "open", "gateway", "G2")]


@ONE_LAKE
def test_a_held_object_is_told_until_somebody_decides(watched: Watched) -> None:
    fair = watched.fair
    fair.deliver("garbage-G1.jsonl", *[fair.line(24, gateway="G1")] * 60, *["broken"] * 60)
    stage(fair.lake, fair.campaign, fair.config, nobody)
    check(fair.lake, fair.campaign, fair.config, nobody)
    report = watched.look()
    assert ("held", "raw/garbage-G1.jsonl") in {(one.kind, one.subject) for one in report.news}
    assert report.needs_attention
    decide(fair.lake, "raw/garbage-G1.jsonl", "discard", nobody)
    watched.take_told()
    watched.minute += 1
    watched.look()
    assert ("closed", "held", "raw/garbage-G1.jsonl") in {told[1:] for told in watched.take_told()}


@ONE_LAKE
def test_a_disk_nearly_full_is_told_once_and_for_all_that_lies_on_it(
    watched: Watched, monkeypatch: pytest.MonkeyPatch
) -> None:
    room = shutil.disk_usage("/")
    monkeypatch.setattr(shutil, "disk_usage", lambda _: room._replace(free=10**9))
    watched.live(2)
    ((_, state, kind, _),) = watched.take_told()
    assert (state, kind) == ("open", "room")
    (alarm,) = watched.look().alarms
    assert str(watched.fair.config.warehouse.parent) in alarm.sentence
    assert "temporary files" in alarm.sentence
    assert alarm.sentence.endswith("make room, or runs will stop")
    monkeypatch.setattr(shutil, "disk_usage", lambda _: room._replace(free=10**10))
    watched.live(7)
    assert [told[1:3] for told in watched.take_told()] == [("closed", "room")]


@ONE_LAKE
def test_a_hook_that_fails_is_told_again(watched: Watched) -> None:
    def fail(_report: WatchReport) -> None:
        raise SurroundingsError("nobody there")

    watched.live(1, down=("G2",))
    watched.minute += 1
    now = BEGIN + timedelta(minutes=watched.minute)
    fair = watched.fair
    fair.deliver("more-G1.jsonl", *[fair.line(9 * PER_MINUTE + seq, gateway="G1") for seq in range(3)])
    with pytest.raises(SurroundingsError, match="nobody there"):
        watch(fair.lake, fair.campaign, fair.config, nobody, now=now, tell=fail)
    watched.look()
    assert [told[1:] for told in watched.take_told()] == [("open", "gateway", "G2")]


@pytest.fixture
def news(watched: Watched) -> WatchReport:
    watched.live(1, down=("G2",))
    watched.minute += 1
    fair = watched.fair
    fair.deliver("more-G1.jsonl", *[fair.line(9 * PER_MINUTE + seq, gateway="G1") for seq in range(3)])
    return watched.look()


@ONE_LAKE
def test_a_command_gets_the_news_as_json(news: WatchReport, tmp_path: Path) -> None:
    script = f"import sys; open({str(tmp_path / 'news')!r}, 'w').write(sys.stdin.read())"
    notify(f'{sys.executable} -c "{script}"', news)
    told = json.loads((tmp_path / "news").read_text())
    assert [(one["state"], one["kind"], one["subject"]) for one in told["alarms"]] == [
        ("open", "gateway", "G2")
    ]
    with pytest.raises(SurroundingsError, match="exit code 3"):
        notify(f'{sys.executable} -c "raise SystemExit(3)"', news)
    with pytest.raises(InputError, match="cannot be run"):
        notify("no-such-command-anywhere", news)


@pytest.fixture
def listener() -> Iterator[tuple[str, list[Any]]]:
    """A URL that takes what is posted to it; /broken does not."""
    heard: list[Any] = []

    class Listener(BaseHTTPRequestHandler):
        def do_POST(self) -> None:  # the name that http.server calls
            heard.append(json.loads(self.rfile.read(int(self.headers["Content-Length"]))))
            self.send_response(500 if self.path == "/broken" else 204)
            self.end_headers()

        def log_message(self, *_: object) -> None:
            return None

    with HTTPServer(("127.0.0.1", 0), Listener) as server:
        thread = threading.Thread(target=server.serve_forever)
        thread.start()
        yield f"http://127.0.0.1:{server.server_port}", heard
        server.shutdown()
        thread.join()


@ONE_LAKE
def test_a_url_gets_the_news_as_json(news: WatchReport, listener: tuple[str, list[Any]]) -> None:
    url, heard = listener
    notify(url, news)
    assert heard[0]["alarms"][0]["subject"] == "G2"
    with pytest.raises(SurroundingsError, match="answered 500"):
        notify(f"{url}/broken", news)
    with pytest.raises(SurroundingsError, match="does not answer") as fault:
        notify("http://127.0.0.1:1/secret-path", news)
    assert "secret-path" not in str(fault.value)
