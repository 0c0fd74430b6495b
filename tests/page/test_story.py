"""What the page says: answers first, every number traceable, and plain words where there is little to say."""

import re
import shlex
from collections.abc import Callable
from typing import Any

import pytest

from motelake.library import Library, call

REGISTER_ONLY = """
insert into campaign values
    ('Empty Fair', 'Europe/Lisbon', '2031-05-08 23:00Z', '2031-05-10 23:00Z', 30, 100,
        null, null, null, null);
insert into level values ('track', 0);
insert into zone values ('hall', 'track', 'Track hall', 'hall', 600, 4, 4);
insert into measure values
    ('sound', 'Sound level', 'dB', 'decibel', 'sound', 20, 125, null, null, null, null);
"""
ONE_MOTE = """
insert into mote values
    ('M1', 'N01', 'sound', 'track', 'hall', null, null, 'mains', '2031-05-08 22:00Z', null, null, null);
insert into mote_place values ('M1', '2031-05-08 22:00Z', '2031-05-11 01:00Z', 'hall', 'track');
"""
ONE_MINUTE = """
insert into mote_minute values ('M1', 'hall', 'sound', '2031-05-09 09:00Z', 1, 0, 30, 50, 50, 50);
insert into zone_minute values ('hall', 'track', 'sound', '2031-05-09 09:00Z', 1, 1, 1, 50);
insert into mote_reference values ('M1', 'sound', '2031-05-08 22:00Z', 50);
insert into burst values
    (1, 'M1', 0, 1, 'G1', '2031-05-09 09:00Z', '2031-05-09 09:00Z', 'fitted', 0, -60, 3, 1);
"""
ALL_HELD = "insert into raw_object values ('raw/a', 1, 'x', 1, 'held', 9, 0, 0, 9, 0, 'rubbish');"


def test_the_largest_changes_name_place_size_time_event_and_certainty(fair_told: Any) -> None:
    (changes,) = [section for section in fair_told.story.sections if section.key == "changes"]
    swap = next(point for point in changes.points if "Seed swap tables: footsteps" in point.head)
    assert "+37\u00a0per\u00a0minute" in swap.head
    assert "The big seed swap" in swap.text or "Late swap" in swap.text
    assert "95\u00a0% interval +35 to +39" in swap.text
    assert swap.call.startswith("motelake show LAKE change.since_baseline")


def test_every_call_beside_a_picture_can_be_asked(fair_told: Any, library: Library) -> None:
    calls = set(re.findall(r"<code[^>]*>(motelake show LAKE [^<]*)</code>", fair_told.page))
    assert len(calls) > 10
    for text in calls:
        _, _, _, view, *given = shlex.split(text.replace("&#x27;", "'"))
        call(library.find(view), dict(one.split("=", 1) for one in given))


def test_every_picture_has_words_a_call_and_a_table(fair_told: Any) -> None:
    figures = [figure for section in fair_told.story.sections for figure in section.figures]
    assert len(figures) > 8
    for figure in figures:
        assert figure.says.endswith(".")
        columns, rows, total = figure.table
        assert columns
        assert rows
        assert total >= len(rows)


def test_cautions_stand_where_the_work_could_hurt_somebody(fair_told: Any) -> None:
    assert fair_told.page.count("licensed practice decide") >= 3
    assert "not for safety" in fair_told.hall
    assert "local codes and licensed practice decide" in fair_told.hall


def test_the_page_fetches_nothing(fair_told: Any, hostile_told: Any) -> None:
    for text in (fair_told.page, fair_told.hall, hostile_told.page):
        assert not re.search(r"""(?:src|href|action|poster)=["'](?!#|data:,)""", text)
        assert "@import" not in text
        assert "url(http" not in text


@pytest.mark.parametrize(
    ("script", "sentence"),
    [
        (REGISTER_ONLY, "Nothing that counts has been heard yet"),
        (REGISTER_ONLY + ONE_MOTE, "1 never heard"),
        (REGISTER_ONLY + ONE_MOTE + ALL_HELD, "1 delivery held back"),
        (REGISTER_ONLY + ONE_MOTE + ONE_MINUTE, "The campaign names no quiet hours"),
    ],
    ids=["empty", "one mote, never heard", "all held", "one minute of one mote"],
)
def test_a_campaign_with_little_in_it_gives_a_page_that_says_so(
    told: Callable[[str], Any], script: str, sentence: str
) -> None:
    campaign = told(script)
    assert sentence in campaign.page
    assert "Empty Fair" in campaign.hall
