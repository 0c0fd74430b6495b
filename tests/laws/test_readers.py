"""Readers and the writer: whoever reads meets whole snapshots and no error, however often is published."""

import json
import os
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from motelake.lake.store import Lake
from motelake.steps import campaign
from motelake.steps.compact import compact
from motelake.steps.fingerprint import fingerprint_warehouse
from motelake.steps.read import find_current
from motelake.steps.refresh_page import Made
from motelake.steps.run import run

if TYPE_CHECKING:
    from tests.laws.conftest import Site

# A quick look; a long one is MOTELAKE_READERS=20 MOTELAKE_PUBLISHES=50.
READERS = int(os.environ.get("MOTELAKE_READERS", "3"))
PUBLISHES = int(os.environ.get("MOTELAKE_PUBLISHES", "6"))
# A reader goes through all questions in so many turns; each turn opens what is current then.
QUESTIONS_AT_ONCE = 6
LONGEST_LOOK_S = 300


@pytest.mark.parametrize("where", ["folder", "store"])
def test_readers_meet_whole_snapshots_and_no_error_while_it_is_published(
    *,
    where: str,
    make_site: "Callable[..., Site]",
    invent: Callable[[int], list[str]],
    tmp_path: Path,
    request: pytest.FixtureRequest,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("motelake.steps.refresh_page.refresh_page", lambda *_, **__: Made(is_made=False))
    site = make_site(where)
    lake: Lake = site.lake if where == "folder" else request.getfixturevalue("store_lake")
    for name, text in site.files.items():
        lake.write(name, text.encode())
    config = replace(site.config, lake=lake.url)
    lines = invent(5)
    published: dict[str, dict[str, str]] = {}

    def publish(number: int) -> None:
        share = lines[number * len(lines) // PUBLISHES : (number + 1) * len(lines) // PUBLISHES]
        lake.write(f"raw/{number:02}.jsonl", "".join(line + "\n" for line in share).encode())
        run(lake, campaign.read(lake), config, lambda _: None)
        published[find_current(lake).id] = fingerprint_warehouse(config)
        if number % 4 == 3:
            compact(lake, campaign.read(lake), config, lambda _: None, refresh=("run",))
            published[find_current(lake).id] = fingerprint_warehouse(config)

    publish(0)
    end = tmp_path / "end"
    told = [tmp_path / f"met-{number}.jsonl" for number in range(READERS)]
    readers = [start_reader(lake, end, file) for file in told]
    try:
        for number in range(1, PUBLISHES):
            wait_until_met(find_current(lake).id, told, readers)
            publish(number)
    finally:
        end.touch()
        errors = [reader.communicate(timeout=600)[1] for reader in readers]
    assert errors == [""] * READERS
    met = read_met(told)
    if PUBLISHES >= 50:
        # Long enough for each reader to ask every question.
        assert min(len(read_met([file])) for file in told) * QUESTIONS_AT_ONCE >= met[0]["of"]
    for one in met:
        assert one["content"] in [published[snapshot] for snapshot in one["may_be"]]


def start_reader(lake: Lake, end: Path, told: Path) -> "subprocess.Popen[str]":
    command = [sys.executable, str(Path(__file__).with_name("reader.py")), lake.url, str(end)]
    with told.open("w") as file:
        return subprocess.Popen(
            [*command, str(QUESTIONS_AT_ONCE)], stdout=file, stderr=subprocess.PIPE, text=True
        )


def wait_until_met(snapshot: str, told: list[Path], readers: "list[subprocess.Popen[str]]") -> None:
    """Wait until a reader has read a snapshot: each is met before the next, however slow the machine."""
    until = time.monotonic() + LONGEST_LOOK_S
    while not any(snapshot in one["may_be"] for one in read_met(told)):
        assert all(reader.poll() is None for reader in readers), "a reader ended before it was told to"
        assert time.monotonic() < until, f"nobody read snapshot {snapshot} in {LONGEST_LOOK_S} s"
        time.sleep(0.1)


def read_met(told: list[Path]) -> list[dict[str, Any]]:
    # The last line may be in the making.
    return [
        json.loads(line)
        for file in told
        for line in file.read_text().splitlines(keepends=True)
        if line.endswith("\n")
    ]
