"""`watch` and `doctor` as an operator calls them."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tests.cli.conftest import Ended

    Call = Callable[..., Ended]

# In the middle of the campaign and long after its only bursts.
LATER = "2031-05-09T09:00:00Z"


def test_a_look_tells_what_is_wrong_and_ends_with_1(motelake: "Call", unstaged: str) -> None:
    ended = motelake("watch", unstaged, "--at", LATER)
    assert ended.code == 1
    assert "open    Nothing is delivered; the last burst came at" in ended.out
    assert ended.err.startswith("open: Nothing is delivered")
    again = motelake("watch", unstaged, "--at", "2031-05-09T09:01:00Z")
    assert (again.code, again.err) == (1, "")
    assert again.out.startswith("still")


def test_a_look_for_programs(motelake: "Call", unstaged: str) -> None:
    ended = motelake("watch", unstaged, "--at", LATER, "--format", "json")
    report = json.loads(ended.out)
    assert report["needs_attention"]
    assert report["looked_at"] == LATER
    ((alarm),) = report["alarms"]
    assert (alarm["kind"], alarm["state"], alarm["opened_at"]) == ("delivery", "open", LATER)


def test_a_look_with_nothing_wrong_ends_with_0(motelake: "Call", unstaged: str) -> None:
    ended = motelake("watch", unstaged, "--at", "2031-05-01T00:00:00Z")
    assert ended.code == 0
    assert ended.out.startswith("No alarms; the last burst came at")


def test_a_hook_is_called_and_one_that_cannot_be_is_named(
    motelake: "Call", unstaged: str, tmp_path: Path
) -> None:
    news = tmp_path / "news.json"
    wrong = motelake("watch", unstaged, "--at", LATER, "--hook", "no-such-command-anywhere")
    assert (wrong.code, "no-such-command-anywhere" in wrong.err) == (2, True)
    # What could not be told is told again.
    ended = motelake("watch", unstaged, "--at", LATER, "--hook", f"tee {news}")
    assert ended.code == 1
    assert json.loads(news.read_text())["alarms"][0]["state"] == "open"


def test_a_wrong_time_is_refused(motelake: "Call", unstaged: str) -> None:
    ended = motelake("watch", unstaged, "--at", "noon")
    assert ended.code == 2
    assert "--at is 'noon'" in ended.err


def test_the_doctor_says_how_things_are(motelake: "Call", unstaged: str) -> None:
    ended = motelake("doctor", unstaged)
    assert ended.code == 0
    assert "campaign" in ended.out
    assert f"motelake run {unstaged}" in ended.out
    report = json.loads(motelake("doctor", unstaged, "--format", "json").out)
    assert {one["state"] for one in report["findings"]} == {"good", "note"}


def test_the_doctor_ends_with_1_where_something_is_bad(motelake: "Call", tmp_path: Path) -> None:
    ended = motelake("doctor", str(tmp_path / "none"))
    assert ended.code == 1
    assert "There is no lake at" in ended.out
