"""`show ... --plot` draws every question that has a picture, of a campaign as it is rehearsed."""

from pathlib import Path

import pytest
from click.testing import CliRunner

from motelake.cli.commands import motelake
from motelake.config import read_config
from motelake.lake.store import Lake
from motelake.page.pictures import PICTURES
from motelake.steps.read import ask

# Where the day of 40 motes has nothing to show: one day has no day before, and no way of its crowd is sure.
MAY_BE_EMPTY = {"change.day_over_day", "flow.surges"}


@pytest.mark.parametrize("view", PICTURES)
def test_a_question_with_a_picture_is_drawn_into_a_file(view: str, rehearsed: Lake, tmp_path: Path) -> None:
    file = tmp_path / "answer.svg"
    shown = CliRunner().invoke(motelake, ["show", rehearsed.url, view, "--plot", str(file)])
    config = read_config(rehearsed.url, environment={})
    rows = ask(rehearsed, view, {}, memory=config.memory, threads=config.threads).num_rows
    if rows:
        assert shown.exit_code == 0, shown.output
        drawn = file.read_text(encoding="utf-8")
        assert drawn.startswith("<svg")
        assert drawn.count("<path") > 3
        assert "<text" in drawn
    else:
        assert view in MAY_BE_EMPTY
        assert "holds nothing to draw" in str(shown.exception)
        assert not file.exists()
