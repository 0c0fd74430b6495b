"""Status: told at any moment, whoever else is at work."""

import subprocess
import sys
from collections.abc import Callable
from typing import TYPE_CHECKING

import pytest

from motelake.steps.check import check
from motelake.steps.load import load
from motelake.steps.publish import publish
from motelake.steps.restage import forget_staged
from motelake.steps.run import run
from motelake.steps.stage import stage
from motelake.steps.status import Status, status

if TYPE_CHECKING:
    from tests.conftest import Fair

Say = Callable[[str], None]


def quiet(_: str) -> None:
    """Hears nothing."""


def told(fair: "Fair") -> Status:
    return status(fair.lake, fair.campaign, fair.config)


def test_nothing_is_loaded_or_published_before_the_first_run(fair: "Fair") -> None:
    fair.deliver("a.jsonl", fair.line(0))
    now = told(fair)
    assert now.waiting == {"stage": 1, "check": 0, "load": 0, "decision": 0}
    assert now.snapshot is None
    assert now.fleet == {"motes": 2}
    assert not now.warehouse["is_there"]


def test_an_object_is_followed_through_every_step(fair: "Fair") -> None:
    fair.deliver("a.jsonl", fair.line(0), fair.line(1), fair.line(1), "no json")
    stage(fair.lake, fair.campaign, fair.config, quiet)
    assert (told(fair).objects, told(fair).batches) == ({"unchecked": 1}, {"unchecked": 1})
    check(fair.lake, fair.campaign, fair.config, quiet)
    assert told(fair).objects == {"passed": 1}
    load(fair.lake, fair.campaign, fair.config, quiet)
    loaded = told(fair)
    assert loaded.objects == {"loaded": 1}
    assert loaded.lines == {"read": 4, "staged": 2, "duplicates": 1, "rejected": 1}
    publish(fair.lake, fair.config, quiet)
    published = told(fair)
    assert published.lines == loaded.lines
    assert published.rejects == {"not_json": 1}
    assert published.batches == {"loaded": 1}
    assert published.fleet["states"] == {"heard": 1, "never heard": 1}
    assert published.fleet["silent"] == ["M2"]


def test_fields_that_no_measure_takes_are_counted_by_name(fair: "Fair") -> None:
    fair.deliver("a.jsonl", fair.line(0, colour="red"), fair.line(1, readings={"temperature": 20, "mood": 1}))
    run(fair.lake, fair.campaign, fair.config, quiet)
    assert told(fair).dropped == {"colour": 1, "mood": 1}


def test_an_object_of_no_known_format_is_refused_by_name(fair: "Fair") -> None:
    fair.lake.write("raw/notes.docx", b"?")
    now = told(fair)
    assert now.needs_attention
    assert "raw/notes.docx" in now.refused[0]


@pytest.mark.parametrize("fair", ["folder"], indirect=True)
@pytest.mark.parametrize("is_published", [True, False])
def test_a_writer_at_work_is_never_met(fair: "Fair", is_published: bool) -> None:
    fair.deliver("a.jsonl", fair.line(0))
    run(fair.lake, fair.campaign, fair.config, quiet)
    if not is_published:
        fair.deliver("b.jsonl", fair.line(1))
        stage(fair.lake, fair.campaign, fair.config, quiet)
        check(fair.lake, fair.campaign, fair.config, quiet)
        load(fair.lake, fair.campaign, fair.config, quiet)
    file = str(fair.config.warehouse)
    holding = f"import duckdb; held = duckdb.connect({file!r}); print('held', flush=True); input()"
    with subprocess.Popen(
        [sys.executable, "-c", holding], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as holder:
        assert holder.stdout is not None
        assert holder.stdout.readline() == "held\n"
        now = told(fair)
        holder.communicate("\n")
    assert now.lines["read"] == (1 if is_published else 2)
    assert now.objects == ({"loaded": 1} if is_published else {"loaded": 1, "passed": 1})


def test_all_that_is_published_is_told_without_opening_the_warehouse(
    fair: "Fair", monkeypatch: pytest.MonkeyPatch
) -> None:
    fair.deliver("a.jsonl", fair.line(0))
    run(fair.lake, fair.campaign, fair.config, quiet)
    opened: list[object] = []
    monkeypatch.setattr("motelake.steps.status.open_engine", lambda *_, **__: opened.append(_))
    assert told(fair).objects == {"loaded": 1}
    assert opened == []


def test_what_was_staged_can_be_forgotten_and_comes_back_the_same(fair: "Fair") -> None:
    fair.deliver("a.jsonl", fair.line(0), "no json")
    run(fair.lake, fair.campaign, fair.config, quiet)
    before = told(fair)
    forget_staged(fair.lake, quiet)
    assert told(fair).waiting["stage"] == 1
    assert fair.lake.list("staged") == fair.lake.list("manifests") == []
    assert [info.name for info in fair.lake.list("raw")] == ["raw/a.jsonl"]
    run(fair.lake, fair.campaign, fair.config, quiet)
    assert told(fair).lines == before.lines
