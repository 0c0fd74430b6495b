"""The page in the lake: made when there is reason to, of the current snapshot; plots of single answers."""

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from motelake.errors import InputError, QueryError
from motelake.steps.check import check
from motelake.steps.load import load
from motelake.steps.page import HALL_FILE, PAGE_FILE, RECORD_FILE
from motelake.steps.plot import plot
from motelake.steps.publish import PublishReport, publish
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


@pytest.fixture
def published(fair: Any) -> Any:
    deliver_and_publish(fair, 0, AT_FIRST)
    return fair


@pytest.mark.parametrize(
    ("name", "begins"), [("a.svg", b"<svg"), ("a.png", b"\x89PNG"), ("a.html", b"<!doctype html>")]
)
def test_a_plot_is_what_its_name_says(published: Any, tmp_path: Path, name: str, begins: bytes) -> None:
    plot(published.lake, "fleet.state", {}, tmp_path / name, published.config)
    assert (tmp_path / name).read_bytes().startswith(begins)


def test_what_cannot_be_drawn_is_said_and_why(published: Any, tmp_path: Path) -> None:
    def draw(view: str, file: Path) -> None:
        plot(published.lake, view, {}, file, published.config)

    with pytest.raises(QueryError, match=r"series\.clock has no picture"):
        draw("series.clock", tmp_path / "a.svg")
    with pytest.raises(QueryError, match=r"a\.gif is none of them"):
        draw("fleet.state", tmp_path / "a.gif")
    with pytest.raises(QueryError, match="holds nothing to draw"):
        draw("change.since_baseline", tmp_path / "a.svg")
    with pytest.raises(InputError, match="cannot be written"):
        draw("fleet.state", tmp_path / "nowhere" / "a.svg")
