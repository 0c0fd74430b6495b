"""Numbers, times and names as the page writes them."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from motelake.page import words

LISBON = ZoneInfo("Europe/Lisbon")


@pytest.mark.parametrize(
    ("value", "written"),
    [
        (0.0, "0"),
        (35.46, "35"),
        (0.04567, "0.046"),
        (-3.2, "−3.2"),
        (1234567.0, "1,234,567"),
        (None, "unknown"),
    ],
)
def test_a_number_keeps_two_digits_and_all_before_the_point(value: float | None, written: str) -> None:
    assert words.number(value) == written


def test_a_difference_says_its_sign() -> None:
    assert [words.signed(value) for value in (2.0, -2.0, 0.0)] == ["+2", "−2", "0"]


def test_times_are_those_of_the_campaigns_clocks() -> None:
    assert words.moment(datetime(2031, 5, 9, 23, 30, tzinfo=UTC), LISBON) == "Sat 10 May, 00:30"


def test_a_share_just_below_all_is_not_told_as_all() -> None:
    assert words.share(0.9999) == "over 99 %"
    assert words.share(1.0) == "100\u00a0%"


def test_a_name_that_turns_the_writing_round_is_kept_apart() -> None:
    assert words.name("\u202eriaF") == "\u2068\u202eriaF\u2069"


def test_control_characters_of_a_name_become_spaces_and_a_long_one_is_cut() -> None:
    assert words.name("a\x1b\x00b\nc") == "a b c"
    assert words.name("x" * 300) == "x" * 59 + "…"


def test_a_short_form_keeps_its_capitals_inside_a_sentence() -> None:
    assert [words.inner(title) for title in ("Sound level", "CO2", "pH")] == ["sound level", "CO2", "pH"]
