"""The commands of the night and of the schedule, as far as they need no Prefect server."""

import subprocess
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from motelake.cli.sentences import compact_lines
from motelake.steps.compact import CompactReport
from motelake.steps.publish import PublishReport

if TYPE_CHECKING:
    from tests.cli.conftest import Call


def test_a_compaction_says_what_became_of_the_files() -> None:
    publish = PublishReport("5e", True, 0, 4, 0, 0, (), ())
    assert list(compact_lines(CompactReport(288, 1, 0, publish)))[:1] == [
        "288 small files put together into 1; the old ones go in a day."
    ]
    assert list(compact_lines(CompactReport(0, 0, 288, publish)))[:2] == [
        "No small files to put together.",
        "288 files removed, replaced or left over a day ago or earlier.",
    ]


def test_a_schedule_cannot_be_told_to_nobody(
    program: tuple[str, ...], unstaged: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("PREFECT_API_URL", raising=False)
    monkeypatch.setenv("PREFECT_HOME", str(tmp_path))
    done = subprocess.run([*program, "deploy", unstaged], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.splitlines()[-1].startswith("motelake: No Prefect server is configured.")


@pytest.mark.parametrize("command", ["compact", "serve", "deploy"])
def test_a_lake_that_is_not_there_is_refused_before_anything_is_started(
    command: str, motelake: "Call", tmp_path: Path
) -> None:
    ended = motelake(command, str(tmp_path / "nowhere"), PREFECT_API_URL="http://127.0.0.1:9/api")
    assert ended.code == 2
    assert "There is no lake at" in ended.err


def test_what_prefect_does_not_accept_is_a_sentence_and_no_traceback(
    program: tuple[str, ...], unstaged: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PREFECT_LOGGING_LEVEL", "LOUD")
    done = subprocess.run([*program, "run", unstaged], capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert done.stderr.splitlines()[-1].startswith("motelake: Prefect does not accept 'LOUD'")
    assert "Traceback" not in done.stderr
