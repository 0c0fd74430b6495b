"""What a call says on stderr as JSON lines."""

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

MOTELAKE = str(Path(sys.executable).with_name("motelake"))


def call(*arguments: str) -> tuple[int, list[dict[str, Any]], str]:
    """Exit code, the lines of stderr as records, and stdout."""
    done = subprocess.run((MOTELAKE, *arguments), capture_output=True, text=True, check=False)
    return done.returncode, [json.loads(line) for line in done.stderr.splitlines()], done.stdout


@pytest.mark.parametrize("fair", ["folder"], indirect=True)
def test_progress_is_a_record_a_line(fair: Any) -> None:
    fair.deliver("a.jsonl", fair.line(1), "broken")
    code, said, _ = call("--log-format", "json", "stage", fair.lake.url)
    assert code == 0
    (record,) = said
    assert (record["level"], record["command"]) == ("info", "stage")
    assert record["said"] == "Staged batch 1: 1 raw object, 1 line taken, 1 rejected."
    assert record["at"].endswith("Z")


@pytest.mark.parametrize(
    ("arguments", "code"), [(["run", "/nowhere"], 2), (["wrong"], 2), (["run", "--wrong"], 2)]
)
def test_an_error_is_one_record_with_its_exit_code(arguments: list[str], code: int) -> None:
    ended, said, out = call("--log-format", "json", *arguments)
    (record,) = said
    assert (ended, record["exit_code"], record["level"], out) == (code, code, "error", "")


@pytest.mark.parametrize("fair", ["store"], indirect=True)
def test_no_secret_is_said_whether_it_goes_well_or_not(fair: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    secrets = {"AWS_ACCESS_KEY_ID": "PLANTED-KEY-0815", "AWS_SECRET_ACCESS_KEY": "planted/secret+4711"}
    fair.deliver("a.jsonl", fair.line(1))
    said = [call("--log-format", "json", "stage", fair.lake.url)[1]]
    with monkeypatch.context() as planted:
        for name, value in secrets.items():
            planted.setenv(name, value)
        for command in ("stage", "doctor", "status", "run"):
            code, lines, out = call("--log-format", "json", command, fair.lake.url)
            assert code != 0
            said += [lines, [{"out": out}]]
    text = json.dumps(said)
    assert text.count("refused") + text.count("credentials") > 0
    for value in (*secrets.values(), "not-to-be-shown-4711"):
        assert value not in text
