"""Readers and the writer: whoever reads meets whole snapshots and no error, however often is published."""

import json
import os
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from motelake.lake.store import Lake
from motelake.steps import campaign
from motelake.steps.compact import compact
from motelake.steps.fingerprint import fingerprint_warehouse
from motelake.steps.page import Made
from motelake.steps.read import find_current
from motelake.steps.run import run

if TYPE_CHECKING:
    from tests.laws.conftest import Site

# A quick look; a long one is MOTELAKE_READERS=20 MOTELAKE_PUBLISHES=50, with every question in each turn.
READERS = int(os.environ.get("MOTELAKE_READERS", "3"))
PUBLISHES = int(os.environ.get("MOTELAKE_PUBLISHES", "6"))
QUESTIONS_AT_ONCE = 0 if READERS > 4 else 6


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
    monkeypatch.setattr("motelake.steps.page.refresh_page", lambda *_, **__: Made(is_made=False))
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
    command = [sys.executable, str(Path(__file__).with_name("reader.py")), lake.url, str(end)]
    readers = [
        subprocess.Popen(
            [*command, str(QUESTIONS_AT_ONCE)], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
        )
        for _ in range(READERS)
    ]
    try:
        for number in range(1, PUBLISHES):
            publish(number)
    finally:
        end.touch()
        said = [reader.communicate(timeout=600) for reader in readers]
    assert [error for _, error in said] == [""] * READERS
    met = [json.loads(line) for told, _ in said for line in told.splitlines()]
    for one in met:
        assert one["content"] in [published[snapshot] for snapshot in one["may_be"]]
    assert len({one["may_be"][1] for one in met}) > 2
