"""Answers sketched on a terminal, and nowhere else."""

from typing import TYPE_CHECKING
from unittest import mock

import pyarrow as pa
import pytest

from motelake.cli.sketches import BARS, BLOCKS, COURSES, line_of, sketch
from motelake.library import read_library

if TYPE_CHECKING:
    from tests.cli.conftest import Call


def test_every_sketch_names_columns_of_its_question() -> None:
    library = read_library()
    for view, course in COURSES.items():
        columns = {column.name for column in library.find(view).columns}
        assert {course.value, course.along, *course.names} <= columns
    for view, (value, names) in BARS.items():
        assert {value, *names} <= {column.name for column in library.find(view).columns}


def test_a_line_goes_from_the_lowest_block_to_the_highest_and_leaves_gaps_blank() -> None:
    assert line_of([0.0, None, 0.5, 1.0], 10, 0.0, 1.0) == "▁ ▅█"


@pytest.mark.parametrize("place", [0, 250, 499])
def test_a_peak_stays_however_narrow_the_terminal_is(place: int) -> None:
    values: list[float | None] = [0.0] * 500
    values[place] = 9.0
    assert line_of(values, 8, 0.0, 9.0).count(BLOCKS[-1]) == 1


def test_a_value_that_never_changes_is_a_flat_line() -> None:
    assert line_of([3.0, 3.0], 10, 3.0, 3.0) == "▁▁"


def test_storeys_keep_the_order_of_the_answer_and_share_a_scale() -> None:
    table = pa.table(
        {"level": ["track", "roof", "track", "roof"], "at": [1, 1, 2, 2], "steps": [8.0, 0.0, 4.0, 1.0]}
    )
    track, roof = sketch("flow.steps_by_level", table, 60).splitlines()
    assert track.startswith("track  █▅")
    assert roof.startswith("roof   ▁▂")


def test_bars_are_as_long_as_their_values_whatever_their_sign() -> None:
    table = pa.table({"event": ["E1", "E2"], "effect": [-10.0, 5.0]})
    first, second = sketch("event_window.response", table, 40).splitlines()
    assert first.count("█") == 2 * second.count("█")
    assert "-10" in first


def test_a_question_without_a_form_and_an_answer_without_rows_give_nothing() -> None:
    assert sketch("fleet.state", pa.table({"mote": ["M1"]}), 80) == ""
    assert (
        sketch(
            "correlation.lagged",
            pa.table({"lag_min": pa.array([], pa.int64()), "r": pa.array([], pa.float64())}),
            80,
        )
        == ""
    )


def test_names_with_control_codes_stay_on_their_line() -> None:
    table = pa.table({"level": ["a\x1b[31m\nb"], "at": [1], "steps": [1.0]})
    assert sketch("flow.steps_by_level", table, 60).startswith("a [31m b")


def test_a_terminal_gets_a_sketch_and_a_pipe_does_not(motelake: "Call", ran: str) -> None:
    piped = motelake("show", ran, "flow.steps_by_level")
    assert not set(piped.out) & set(BLOCKS)
    with mock.patch("motelake.cli.sketches.is_for_a_person", return_value=True):
        seen = motelake("show", ran, "flow.steps_by_level")
    assert BLOCKS[-1] in seen.out
    assert "\x1b" not in seen.out
