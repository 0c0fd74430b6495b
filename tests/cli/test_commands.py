"""What each command does to a lake and says of it."""

import json
from pathlib import Path
from shutil import copytree
from typing import TYPE_CHECKING

import pytest

from motelake.library import read_library

if TYPE_CHECKING:
    from tests.cli.conftest import Call

FLEET = "fleet.state"


def test_steps_one_by_one_do_what_a_run_does(motelake: "Call", unstaged: str) -> None:
    assert "3 lines read, 2 taken, 1 rejected" in motelake("stage", unstaged).out
    assert "1 passed" in motelake("check", unstaged).out
    assert "2 bursts and 2 readings in all" in motelake("load", unstaged).out
    published = motelake("publish", unstaged, "--format", "json")
    report = json.loads(published.out)
    assert report["is_new"] is True
    assert report["page_made"] is True
    # Of the hourly kind, which a run leaves for later.
    assert "fleet.silence" in report["answers_made"]
    ended = motelake("sql", unstaged, "select value from reading order by 1", "--format", "json")
    assert json.loads(ended.out) == [{"value": 21.5}, {"value": 21.6}]


def test_progress_goes_to_stderr_and_the_report_to_stdout(motelake: "Call", unstaged: str) -> None:
    ended = motelake("stage", unstaged, "--format", "json")
    assert json.loads(ended.out)["lines_read"] == 3
    assert "Staged batch 1" in ended.err


def test_a_refused_object_ends_with_1_and_stops_nothing_else(motelake: "Call", unstaged: str) -> None:
    Path(unstaged, "raw/notes.docx").write_text("?")
    ended = motelake("stage", unstaged)
    assert ended.code == 1
    assert "2 taken" in ended.out
    assert "raw/notes.docx was refused" in ended.out


def test_status_reads_a_lake_before_anything_is_done(motelake: "Call", unstaged: str) -> None:
    ended = motelake("status", unstaged, "--format", "json")
    assert ended.code == 0
    told = json.loads(ended.out)
    assert told["lines"] == {"read": 0, "staged": 0, "duplicates": 0, "rejected": 0}
    assert told["waiting"] == {"stage": 1, "check": 0, "load": 0, "decision": 0}
    assert told["snapshot"] is None


def test_status_tells_held_objects_and_ends_with_1(motelake: "Call", ran: str) -> None:
    ended = motelake("status", ran, "--format", "json")
    told = json.loads(ended.out)
    assert ended.code == 1
    lines = told["lines"]
    assert lines["read"] == lines["staged"] + lines["duplicates"] + lines["rejected"] > 0
    assert sum(told["rejects"].values()) == lines["rejected"]
    assert len(told["held"]) == 1
    assert told["fleet"]["motes"] == 6
    text = motelake("status", ran)
    assert text.code == 1
    assert f"{told['held'][0]}: " in text.out
    assert "times in Europe/Lisbon" in text.out


def test_a_held_object_is_admitted_and_loaded_by_the_next_load(
    motelake: "Call", ran: str, tmp_path: Path
) -> None:
    fair = str(copytree(ran, tmp_path / "fair"))
    (held,) = json.loads(motelake("status", fair, "--format", "json").out)["held"]
    ended = motelake("admit", fair, Path(held).name, "--note", "looked at it")
    assert ended.code == 0
    assert motelake("load", fair).code == 0
    told = json.loads(motelake("status", fair, "--format", "json").out)
    assert told["held"] == []
    assert told["objects"]["admitted"] == 1


def test_a_discarded_object_stays_out_and_waits_for_nobody(
    motelake: "Call", ran: str, tmp_path: Path
) -> None:
    fair = str(copytree(ran, tmp_path / "fair"))
    (held,) = json.loads(motelake("status", fair, "--format", "json").out)["held"]
    assert motelake("discard", fair, held).code == 0
    told = json.loads(motelake("status", fair, "--format", "json").out)
    assert told["objects"]["discarded"] == 1
    assert told["needs_attention"] is False


def test_what_is_not_held_cannot_be_decided(motelake: "Call", ran: str) -> None:
    ended = motelake("admit", ran, "no-such-object.jsonl")
    assert ended.code == 2
    assert ended.err.startswith("motelake: There is no raw object")


def test_a_rebuild_from_raw_makes_the_same_warehouse(motelake: "Call", ran: str, tmp_path: Path) -> None:
    fair = str(copytree(ran, tmp_path / "fair"))
    before = motelake("fingerprint", ran, "--format", "json")
    assert motelake("rebuild", fair, "--from-raw").code == 1
    after = motelake("fingerprint", fair, "--format", "json")
    assert json.loads(after.out) == json.loads(before.out)
    assert set(json.loads(after.out)) >= {"burst", "reading", "mote_minute", "zone_minute", "mote"}


def test_a_fingerprint_of_no_warehouse_is_refused(motelake: "Call", unstaged: str) -> None:
    ended = motelake("fingerprint", unstaged)
    assert ended.code == 2
    assert "There is no warehouse at" in ended.err


def test_views_are_listed_by_area_with_their_questions(motelake: "Call") -> None:
    listed = motelake("views")
    for entry in read_library().questions():
        assert entry.name in listed.out
    described = json.loads(motelake("views", "--format", "json").out)
    assert {one["name"] for one in described} == {entry.name for entry in read_library().questions()}


@pytest.mark.parametrize("entry", [entry.name for entry in read_library().questions()])
def test_a_view_tells_its_parameters_columns_and_how_it_misleads(entry: str) -> None:
    from motelake.cli.descriptions import describe

    about = read_library().find(entry)
    text = describe(about)
    for name in [one.name for one in about.parameters] + [one.name for one in about.columns]:
        assert f"\n  {name} " in text
    assert "How it could mislead: " in text


def test_an_answer_is_followed_by_what_it_rests_on(motelake: "Call", ran: str) -> None:
    ended = motelake("show", ran, FLEET)
    assert ended.code == 0
    assert ended.out.splitlines()[0].split()[:4] == ["mote", "network", "level", "zone"]
    assert "It rests on: " in ended.out
    assert "It could mislead: " in ended.out


def test_programs_get_the_bare_rows_with_times_in_utc(motelake: "Call", ran: str) -> None:
    rows = json.loads(motelake("show", ran, FLEET, "--format", "json").out)
    assert len(rows) == 6
    assert all(row["last_heard_at"].endswith("Z") for row in rows)


def test_a_time_that_people_read_can_be_given_back(motelake: "Call", ran: str) -> None:
    def minutes_after(start: str) -> set[int]:
        ended = motelake("show", ran, "change.between", f"from_b={start}", "--format", "json")
        return {row["n_b"] for row in json.loads(ended.out)}

    # In May Lisbon is an hour ahead of UTC.
    said, meant = minutes_after("2031-05-09 11:00"), minutes_after("2031-05-09T10:00:00Z")
    assert said == meant != minutes_after("2031-05-09T11:00:00Z")


def test_an_empty_answer_tells_why_on_stderr(motelake: "Call", unstaged: str) -> None:
    for step in ("stage", "check", "load", "publish"):
        assert motelake(step, unstaged).code == 0
    ended = motelake("show", unstaged, "event_window.response", "--format", "json")
    assert (ended.code, json.loads(ended.out)) == (0, [])
    assert ended.err == "event_window.response has no rows: programme/ names no event.\n"
    ended = motelake("show", unstaged, "change.since_baseline")
    assert ended.out.startswith("no rows\n")
    assert "campaign.toml has no [baseline]" in ended.err


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("fleet.stat",), "Did you mean 'fleet.state'?"),
        (("correlation.lagged", "max_lag=3"), "Did you mean 'max_lag_min'?"),
        (("correlation.lagged", "max_lag_min=x"), "whole number"),
        (("correlation.lagged", "measure_a=footstep"), "Did you mean 'footsteps'?"),
        (("correlation.lagged", "max_lag_min=3", "max_lag_min=4"), "given twice"),
        (("correlation.lagged", "max_lag_min=3", "zone"), "write parameters as name=value"),
    ],
)
def test_a_wrong_question_is_refused_by_name(
    motelake: "Call", ran: str, arguments: tuple[str, ...], message: str
) -> None:
    ended = motelake("show", ran, *arguments)
    assert ended.code == 2
    assert message in ended.err


def test_sql_that_writes_is_refused(motelake: "Call", ran: str, tmp_path: Path) -> None:
    ended = motelake("sql", ran, f"copy mote to '{tmp_path}/motes.csv'")
    assert ended.code == 2
    assert ended.err.startswith("motelake: Only SELECT is allowed here")
    assert not (tmp_path / "motes.csv").exists()


def test_a_rehearsal_tells_where_it_is_and_its_options_reach_the_plan(
    motelake: "Call", tmp_path: Path
) -> None:
    folder = tmp_path / "house"
    ended = motelake(
        "rehearse", str(folder), "--motes", "2", "--days", "1", "--seed", "5", "--scene", "glasshouse",
        "--first-date", "2031-03-30", "--no-faults", "--format", "json",
    )  # fmt: skip
    told = json.loads(ended.out)
    assert (told["motes"], told["rejects"]) == (2, 0)
    assert (folder / "raw" / "2031-03-30").is_dir()
    assert Path(told["truth"]).is_dir()
    again = motelake("rehearse", str(folder))
    assert again.code == 2
    assert "already holds something" in again.err
