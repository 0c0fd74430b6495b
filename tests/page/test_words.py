"""Numbers, times and names as the page writes them."""

from datetime import UTC, datetime, timedelta
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


def test_an_end_of_an_interval_is_told_no_closer_than_a_tenth_of_its_width() -> None:
    assert words.interval(0.0029, 2.41) == "95\u00a0% interval just over 0 to +2.4"
    assert words.interval(-0.041, 23.4) == "95\u00a0% interval just under 0 to +23"
    assert words.interval(0.0, 2.41) == "95\u00a0% interval 0 to +2.4"
    assert words.interval(26.4, 49.2) == "95\u00a0% interval +26 to +49"
    assert words.interval(1.0, 1.0) == "95\u00a0% interval +1 to +1"
    assert words.interval(None, 2.0) == "95\u00a0% interval unknown to +2"


def test_an_estimate_shows_no_digit_that_is_not_sure() -> None:
    assert [words.signed(value) for value in (43466.0, 1542.0, -913.0, 0.0456)] == [
        "+43,000", "+1,500", "−910", "+0.046",
    ]  # fmt: skip
    assert words.estimate(55038.0, 3) == "55,000"


def test_a_difference_of_two_dbm_is_in_db() -> None:
    assert words.difference(24.0, "dBm") == "+24\u00a0dB"
    assert words.difference(-9.9, "%RH") == "−9.9\u00a0%\u00a0RH"


def test_a_difference_of_two_shares_is_in_percentage_points() -> None:
    assert words.difference(13.0, "%") == "+13\u00a0percentage\u00a0points"
    assert words.difference(0.2, "/") == "+0.2"


def test_one_minute_is_one() -> None:
    assert [words.independent_minutes(count) for count in (0.4, 1.2, 4.2)] == [
        "1 independent minute", "1 independent minute", "4 independent minutes",
    ]  # fmt: skip


def test_instants_of_an_answer_are_told_on_the_campaigns_clocks() -> None:
    said = words.on_clocks("moved at 2031-05-09T23:30Z, back at 2031-05-10T06:00:30Z", LISBON)
    assert said == "moved at Sat 10 May, 00:30, back at Sat 10 May, 07:00"


@pytest.mark.parametrize(
    ("minutes", "told"),
    [(0, "0 min"), (59.6, "1 h"), (71, "1 h 11 min"), (1440, "1 d"), (5047, "3 d 12 h")],
)
def test_a_length_of_time_has_its_two_largest_units(minutes: float, told: str) -> None:
    assert words.length(timedelta(minutes=minutes)) == told


def test_times_are_those_of_the_campaigns_clocks() -> None:
    assert words.moment(datetime(2031, 5, 9, 23, 30, tzinfo=UTC), LISBON) == "Sat 10 May, 00:30"


def test_a_share_just_below_all_is_not_told_as_all_nor_a_small_one_as_none() -> None:
    assert words.share(0.9999) == "over 99\u00a0%"
    assert words.share(0.0001) == "under 1\u00a0%"
    assert words.share(0.0) == "0\u00a0%"
    assert words.share(1.0) == "100\u00a0%"


def test_a_name_that_turns_the_writing_round_is_kept_apart() -> None:
    assert words.name("\u202eriaF") == "\u2068\u202eriaF\u2069"


def test_control_characters_of_a_name_become_spaces_and_a_long_one_is_cut() -> None:
    assert words.name("a\x1b\x00b\nc") == "a b c"
    assert words.name("x" * 300) == "x" * 59 + "…"


def test_a_short_form_keeps_its_capitals_inside_a_sentence() -> None:
    assert [words.inner(title) for title in ("Sound level", "CO2", "pH")] == ["sound level", "CO2", "pH"]


def test_a_campaign_that_ends_at_midnight_does_not_reach_into_the_next_day() -> None:
    start, midnight = (datetime(2031, 5, day, tzinfo=LISBON) for day in (9, 11))
    assert words.span(start, midnight, LISBON) == "9 to 10 May 2031"
    assert words.span(start, midnight + timedelta(hours=1), LISBON) == "9 to 11 May 2031"
    assert words.span(start, datetime(2031, 5, 10, tzinfo=LISBON), LISBON) == "9 May 2031"
