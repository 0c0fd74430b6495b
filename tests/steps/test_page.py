"""The page in the lake: made when there is reason to, of the current snapshot; plots of single answers."""

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from motelake.errors import InputError, QueryError
from motelake.steps.check import check
from motelake.steps.load import load
from motelake.steps.page import HALL_FILE, PAGE_FILE
from motelake.steps.plot import plot
from motelake.steps.publish import PublishReport, publish
from motelake.steps.refresh_page import RECORD_FILE
from motelake.steps.stage import stage

AT_FIRST = datetime(2031, 5, 9, 6, tzinfo=UTC)


def quietly(_: str) -> None:
    pass


def deliver_and_publish(
    fair: Any, hour: int, now: datetime, refresh: tuple[str, ...] = ("run",)
) -> PublishReport:
    fair.deliver(f"{hour}.jsonl", *[fair.line(hour * 180 + seq) for seq in range(180)])
    for step in (stage, check, load):
        step(fair.lake, fair.campaign, fair.config, quietly)
    return publish(fair.lake, fair.config, quietly, refresh=refresh, now=now)


def test_the_first_publish_makes_a_page_and_a_hall_view(fair: Any) -> None:
    report = deliver_and_publish(fair, 0, AT_FIRST)
    assert report.page_made
    assert "Depot Fair" in fair.lake.read(PAGE_FILE).decode()
    assert "Depot Fair" in fair.lake.read(HALL_FILE).decode()
    assert json.loads(fair.lake.read(RECORD_FILE))["snapshot"] == report.snapshot


def test_runs_within_the_hour_leave_the_page_and_a_later_one_makes_it_again(fair: Any) -> None:
    deliver_and_publish(fair, 0, AT_FIRST)
    assert not deliver_and_publish(fair, 1, AT_FIRST + timedelta(minutes=5)).page_made
    assert publish(fair.lake, fair.config, quietly, now=AT_FIRST + timedelta(hours=1)).page_made
    assert not publish(fair.lake, fair.config, quietly, now=AT_FIRST + timedelta(hours=5)).page_made


def test_asking_for_the_hourly_answers_makes_the_page_of_them(fair: Any) -> None:
    deliver_and_publish(fair, 0, AT_FIRST)
    report = deliver_and_publish(fair, 1, AT_FIRST + timedelta(minutes=5), refresh=("run", "hour", "day"))
    assert report.page_made
    assert report.snapshot in fair.lake.read(PAGE_FILE).decode()


def test_a_damaged_record_costs_one_page(fair: Any) -> None:
    deliver_and_publish(fair, 0, AT_FIRST)
    fair.lake.write(RECORD_FILE, b"{")
    assert publish(fair.lake, fair.config, quietly, now=AT_FIRST).page_made


def test_a_plot_is_what_its_name_says_and_what_cannot_be_drawn_is_said(fair: Any, tmp_path: Path) -> None:
    deliver_and_publish(fair, 0, AT_FIRST)

    def draw(view: str, name: str) -> bytes:
        plot(fair.lake, view, {}, tmp_path / name, fair.config)
        return (tmp_path / name).read_bytes()

    assert draw("fleet.state", "a.svg").startswith(b"<svg")
    assert draw("fleet.state", "a.png").startswith(b"\x89PNG")
    assert draw("fleet.state", "a.html").startswith(b"<!doctype html>")
    with pytest.raises(QueryError, match=r"series\.clock has no picture"):
        draw("series.clock", "a.svg")
    with pytest.raises(QueryError, match=r"a\.gif is none of them"):
        draw("fleet.state", "a.gif")
    with pytest.raises(QueryError, match="holds nothing to draw"):
        draw("change.since_baseline", "a.svg")
    with pytest.raises(InputError, match="cannot be written"):
        draw("fleet.state", "nowhere/a.svg")


def test_a_plot_that_the_drawing_library_refuses_is_told_in_a_sentence(
    fair: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: Any, **__: Any) -> str:
        raise ValueError("bad specification")

    deliver_and_publish(fair, 0, AT_FIRST)
    monkeypatch.setattr("motelake.steps.plot.to_svg", refuse)
    with pytest.raises(QueryError, match=r"fleet\.state could not be drawn: bad specification"):
        plot(fair.lake, "fleet.state", {}, tmp_path / "a.svg", fair.config)
