"""What the page says: answers first, every number traceable, and plain words where there is little to say."""

import re
import shlex
from collections.abc import Callable
from typing import Any, cast

import pytest

from motelake.library import Library, call
from motelake.page.answers import Answer, Ask
from motelake.page.crowd import tell_crowd
from motelake.page.pairs import tell_pairs
from motelake.page.story import ASKED

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


def test_the_story_asks_what_it_says_it_asks(fair_told: Any) -> None:
    assert fair_told.asked == set(ASKED)


def test_the_largest_changes_name_place_size_time_event_and_certainty(fair_told: Any) -> None:
    (changes,) = [section for section in fair_told.story.sections if section.key == "changes"]
    swap = next(point for point in changes.points if "Seed swap tables: footsteps" in point.head)
    assert "+37\u00a0per\u00a0minute" in swap.head
    assert "The big seed swap" in swap.text or "Late swap" in swap.text
    assert "95\u00a0% interval +26 to +49" in swap.text
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


def test_the_crowd_of_an_event_is_compared_with_other_days_not_with_those_who_came_early(
    fair_told: Any,
) -> None:
    (effects,) = [section for section in fair_told.story.sections if section.key == "effects"]
    calls = {call for figure in effects.figures for call in figure.calls if "event_window.response" in call}
    assert calls
    for call_of in calls:
        assert ("before_min=0" in call_of) is ("measure=footsteps" in call_of)


@pytest.mark.parametrize(("p_scan", "is_told"), [(0.02, False), (0.01, True)])
def test_the_best_of_three_pairs_is_told_only_where_it_is_sure_among_three(
    p_scan: float, is_told: bool, fair_told: Any
) -> None:
    """The adjustment is Bonferroni's: p times the number of pairs, against 0.05."""

    def ask(view: str, given: dict[str, str]) -> Answer:
        row = {"lag_min": 3, "r": 0.5, "low": 0.2, "high": 0.7, "n_effective": 30.0, "is_best": True}
        return Answer(view, [row | given | {"p_scan": p_scan}], given)

    section = tell_pairs(cast("Ask", ask), fair_told.scene)
    assert ("rise and fall together" in section.answer) is is_told
    assert section.more[0].startswith("3 of 3 pairs are sure" if is_told else "0 of 3 pairs are sure")


def test_a_campaign_whose_mats_counted_nothing_is_not_one_without_mats(fair_told: Any) -> None:
    def ask(view: str, given: dict[str, str]) -> Answer:
        row = {"level": "track", "height_m": 0.0, "at": fair_told.scene.starts_at, "steps": 0.0}
        return Answer(view, [row], given)

    section = tell_crowd(cast("Ask", ask), fair_told.scene)
    assert section.answer.endswith(": none was counted.")
    assert not section.figures
