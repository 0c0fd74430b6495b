"""The page ends, whatever a question costs and whatever breaks while it is told or drawn."""

from collections.abc import Mapping
from time import monotonic
from typing import Any

import pytest

from motelake.cli.sentences import publish_lines
from motelake.engine import open_engine
from motelake.errors import QueryError
from motelake.library import read_library
from motelake.page.answers import Answer, Ask
from motelake.steps.check import check
from motelake.steps.load import load
from motelake.steps.page import PAGE_FILE, Asker
from motelake.steps.publish import publish
from motelake.steps.stage import stage
from motelake.warehouse.asked import TooLongError, interrupted_after

ENDLESS = "select count(*) from range(1000000) a, range(1000000) b where a.range * b.range % 7 = 3"


def quietly(_: str) -> None:
    pass


@pytest.fixture
def delivered(fair: Any) -> Any:
    """The small lake with three hours of one mote, loaded."""
    fair.deliver("a.jsonl", *[fair.line(seq) for seq in range(540)])
    for step in (stage, check, load):
        step(fair.lake, fair.campaign, fair.config, quietly)
    return fair


def test_a_statement_is_interrupted_and_the_engine_works_on() -> None:
    engine = open_engine(threads=1)
    began = monotonic()
    with pytest.raises(TooLongError, match="longer than"), interrupted_after(engine, 0.2):
        engine.execute(ENDLESS)
    assert monotonic() - began < 20
    with interrupted_after(engine, 30):
        assert engine.execute("select 1").fetchall() == [(1,)]


def test_a_mistake_inside_the_time_is_told_as_it_is() -> None:
    engine = open_engine(threads=1)
    with pytest.raises(QueryError, match="no such measure"), interrupted_after(engine, 30):
        raise QueryError("no such measure")


def test_a_question_that_takes_too_long_is_named_and_the_ones_after_it_are_not_begun() -> None:
    engine = open_engine(threads=1)
    library = read_library()
    engine.execute("create schema fleet")
    engine.execute(f"create view fleet.state as {ENDLESS}")
    ask: Ask = Asker(engine, library, question_at_most_s=0.2)
    assert ask("fleet.state", {}) is None
    assert [missed.call for missed in ask.missed] == ["motelake show LAKE fleet.state"]
    assert "takes longer" in ask.missed[0].why
    late: Ask = Asker(engine, library, ends_at_s=0.0)
    assert late("fleet.state", {}) is None
    assert "was not asked" in late.missed[0].why


def test_a_page_without_time_says_which_questions_it_leaves_open(
    delivered: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("motelake.steps.page.PAGE_AT_MOST_S", 0.0)
    report = publish(delivered.lake, delivered.config, quietly)
    page = delivered.lake.read(PAGE_FILE).decode()
    assert report.page_made
    assert not report.needs_attention
    assert "There was no answer to this in time." in page
    assert "Not answered here: <code>motelake show LAKE change.since_baseline</code>" in page


def test_a_picture_that_fails_costs_no_other_and_no_traceback(
    delivered: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(_answer: Answer, _scene: Any, _frame: Any) -> None:
        raise ValueError("<b>no ink</b>")

    monkeypatch.setattr("motelake.page.fleet.draw_plan", fail)
    report = publish(delivered.lake, delivered.config, quietly)
    page = delivered.lake.read(PAGE_FILE).decode()
    assert report.page_made
    assert report.needs_attention
    assert any(
        "picture fleet-0 (wide): ValueError: <b>no ink</b>" in failure for failure in report.page_failures
    )
    assert any("missing on the page: picture fleet-0" in sentence for sentence in publish_lines(report))
    assert "could not be drawn: ValueError: &lt;b&gt;no ink&lt;/b&gt;" in page
    assert 'id="fleet-1"' in page


def test_a_section_that_fails_leaves_the_others(delivered: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[str] = []
    answer = Asker.__call__

    def fail(asker: Asker, view: str, given: Mapping[str, str]) -> Answer | None:
        asked.append(view)
        if view == "correlation.lagged":
            raise KeyError("r")
        return answer(asker, view, given)

    monkeypatch.setattr(Asker, "__call__", fail)
    report = publish(delivered.lake, delivered.config, quietly)
    page = delivered.lake.read(PAGE_FILE).decode()
    assert report.page_failures == ("pairs: KeyError: 'r'",)
    assert "This part of the page could not be made." in page
    assert "fleet.state" in asked
