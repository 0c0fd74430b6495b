"""Each picture holds what its answer says, and nothing is drawn where there is nothing to draw."""

import json
import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from motelake.library import Library
from motelake.page.answers import Answer
from motelake.page.around import draw_around
from motelake.page.bars import evidence
from motelake.page.crowd import draw_crowd
from motelake.page.drawing import HALL, NARROW, WIDE, to_png, to_svg, within_page
from motelake.page.fleet import draw_delivery
from motelake.page.intervals import Interval, draw_intervals
from motelake.page.marks import clock_ticks, layer, text_of, unbroken
from motelake.page.moments import draw_silence, place_of_words
from motelake.page.palette import DARK, LIGHT
from motelake.page.pictures import PICTURES
from motelake.page.profiles import Profile
from motelake.page.scene import Scene
from motelake.page.shades import class_width, is_sure, step_of
from motelake.page.shares import fullest_zones

NINE = datetime(2031, 5, 9, 8, tzinfo=UTC)


def values_in(chart: dict[str, Any]) -> str:
    """Everything a specification says, as text."""
    return json.dumps(chart, ensure_ascii=False)


def test_every_picture_belongs_to_a_question_of_the_library(library: Library) -> None:
    assert PICTURES.keys() <= {entry.name for entry in library.questions()}


def test_every_question_but_building_blocks_has_a_picture(library: Library) -> None:
    without = {entry.name for entry in library.questions()} - PICTURES.keys()
    assert {name for name in without if not name.startswith("series.")} == {"event_window.occurrence"}


@pytest.mark.parametrize("view", PICTURES)
def test_an_answer_without_rows_gives_no_picture(view: str, fair_told: Any) -> None:
    assert PICTURES[view](Answer(view, []), fair_told.scene, WIDE) is None


@pytest.mark.parametrize("frame", [WIDE, NARROW, HALL], ids=["wide", "narrow", "hall"])
@pytest.mark.parametrize("view", PICTURES)
def test_every_question_that_has_rows_can_be_drawn(view: str, frame: Any, fair_told: Any) -> None:
    answer = fair_told.ask(view, {})
    assert answer is not None
    chart = PICTURES[view](answer, fair_told.scene, frame)
    if not answer.rows:
        assert chart is None
    else:
        assert chart is not None
        assert to_svg(chart, frame).count("<path") > 1


def test_hills_keep_the_peak_and_tell_it(fair_told: Any) -> None:
    rows = [
        {"level": "track", "height_m": 0.0, "at": NINE + timedelta(hours=hour), "steps": steps}
        for hour, steps in enumerate([10.0, 4321.0, 20.0])
    ]
    chart = draw_crowd(Answer("flow.steps_by_level", rows), fair_told.scene, WIDE)
    assert chart is not None
    assert "4,320 at 10:00" in values_in(chart)


def strip_row(change: float, low: float, high: float, score: float) -> dict[str, Any]:
    return {
        "zone": "hall",
        "measure": "sound",
        "at": NINE,
        "change": change,
        "low": low,
        "high": high,
        "score": score,
    }


def test_a_change_that_is_not_sure_gets_no_colour() -> None:
    unsure = strip_row(9.0, -1.0, 19.0, 50.0)
    usual = strip_row(9.0, 8.0, 10.0, 2.0)
    assert not is_sure(unsure)
    assert step_of(unsure, 1.0) == step_of(usual, 1.0) == 0


def test_colours_go_up_with_the_size_of_a_change_to_either_side() -> None:
    rows = [strip_row(size, size - 0.1, size + 0.1, size * 9) for size in (-9.0, -0.5, 0.5, 5.0, 9.0)]
    steps = [step_of(row, class_width(rows)) for row in rows]
    assert steps == sorted(steps)
    assert (steps[0], steps[-1]) == (-5, 5)


def test_a_dot_is_hollow_where_its_interval_holds_nought() -> None:
    intervals = [Interval("sure", 2.0, 1.0, 3.0), Interval("open", 2.0, -1.0, 5.0), Interval("alone", 2.0)]
    assert [interval.is_sure for interval in intervals] == [True, False, False]
    assert draw_intervals(intervals, "dB", WIDE) is not None


def test_motes_behind_one_gateway_share_a_row_of_silence(fair_told: Any) -> None:
    rows = [
        {
            "network": "N01", "zone": "hall", "mote": f"M{number}", "from_at": NINE,
            "to_at": NINE + timedelta(hours=1), "bursts_missed": 120, "cause": "gateway",
        }
        for number in range(3)
    ]  # fmt: skip
    lost = rows[0] | {"mote": "M9", "to_at": NINE + timedelta(minutes=4), "cause": "losses"}
    chart = draw_silence(Answer("fleet.silence", [*rows, lost]), fair_told.scene, WIDE)
    assert chart is not None
    assert values_in(chart).count("network N01 (gateway)") == 1
    assert "1 h, 3 motes" in values_in(chart)
    assert "M9" not in values_in(chart)
    assert draw_silence(Answer("fleet.silence", [lost]), fair_told.scene, WIDE) is None


def test_a_mote_that_is_still_silent_has_the_colour_of_one_that_is(fair_told: Any) -> None:
    until = fair_told.scene.data_to
    rows = [
        {"network": "N01", "zone": "hall", "mote": mote, "from_at": NINE, "to_at": end, "cause": "one mote"}
        for mote, end in (("M1", NINE + timedelta(hours=2)), ("M2", until))
    ]
    chart = draw_silence(Answer("fleet.silence", rows), fair_told.scene, WIDE)
    assert chart is not None
    marks = next(
        one["data"]["values"] for one in chart["vconcat"][0]["layer"] if "cornerRadius" in one["mark"]
    )
    assert sorted((mark["lane"], mark["way"]) for mark in marks) == [(0, "still"), (1, "over")]


@pytest.mark.parametrize(
    ("mark", "taken", "place"),
    [
        ((10, 20), [], "after"),
        ((10, 20), [(40, 45)], ""),
        ((60, 90), [], "before"),
        ((60, 90), [(0, 20), (30, 50)], ""),
        ((40, 95), [(0, 20)], "inside"),
        ((0, 100), [], "inside"),
    ],
)
def test_words_stand_where_no_other_mark_is(
    mark: tuple[float, float], taken: list[tuple[float, float]], place: str
) -> None:
    assert place_of_words(mark, 35, taken, 100) == place


def test_a_mote_that_loses_far_more_than_its_network_is_named(fair_told: Any) -> None:
    rows = [
        {"network": "N01", "mote": f"M{number}", "delivered_share": share, "state": "heard"}
        for number, share in enumerate([0.95, 0.94, 0.96, 0.93, 0.6, 0.61])
    ]
    chart = draw_delivery(Answer("fleet.state", rows), fair_told.scene, WIDE)
    assert chart is not None
    texts = {mark["text"] for one in chart["layer"][-3:-1] for mark in one["data"]["values"]}
    assert texts == {"M4, M5", ""}


def test_shifts_of_one_measure_at_one_time_share_a_row_and_events_do_not(fair_told: Any) -> None:
    rows = [
        {"what": "shift", "zone": zone, "offset_min": -5.0, "detail": "sound, confidence 1.0"}
        for zone in ("hall", "swap", "talks")
    ] + [
        {"what": "event starts", "zone": zone, "offset_min": 2.0, "detail": "E9: Opening bell"}
        for zone in ("hall", "swap")
    ]
    chart = draw_around(Answer("event_window.around", rows), fair_told.scene, WIDE)
    assert chart is not None
    names = [row["name"] for row in chart["layer"][-1]["data"]["values"]]
    assert names == [
        "Shift: sound level, 3 zones",
        "Event starts: Opening bell, Track hall",
        "Event starts: Opening bell, Seed swap tables",
    ]


def test_what_speaks_against_a_place_is_told_with_the_names_and_clocks_of_people(fair_told: Any) -> None:
    row = {
        "evidence": "sound: goes with swap (r 0.97), not with its own zone (r -0.2); temperature: moved "
        "7.3 m down at 2031-05-09T12:30Z, the register knows of no move"
    }
    assert evidence(row, fair_told.scene) == [
        "sound level: goes with Seed swap tables (r 0.97), not with its own zone (r −0.2)",
        "air temperature: moved 7.3 m down at Fri 9 May, 13:30, the register knows of no move",
    ]


def test_of_many_zones_those_are_drawn_that_ever_held_most(fair_told: Any) -> None:
    scene = replace(
        fair_told.scene,
        zones={
            f"z{number:02}": replace(
                fair_told.scene.zones["hall"], zone=f"z{number:02}", title=f"Z{number:02}"
            )
            for number in range(40)
        },
    )
    rows = [{"zone": f"z{number:02}", "share_of_venue": number / 780} for number in range(40)]
    assert fullest_zones(rows, scene) == [f"z{number:02}" for number in range(24, 40)]


def test_a_number_that_is_written_out_keeps_its_digits_in_a_page() -> None:
    chart = layer("text", [{"said": 'r = 0.7149 class="x"'}], {"text": text_of("said")})
    svg = within_page(to_svg(chart, WIDE), "pairs-0")
    assert "r = 0.7149 class=" in svg
    assert not re.search(r"\d\.\d\d", svg.replace("0.7149", ""))


def test_a_name_is_cut_only_where_it_is_wider_than_its_room() -> None:
    whole = "Stage in the inspection pit"
    width = WIDE.width_of(whole)
    assert WIDE.fitted(whole, width) == whole
    cut = WIDE.fitted(whole, width - 1)
    assert cut.endswith("…")
    assert WIDE.width_of(cut) <= width - 1


def test_clocks_show_the_hour_that_people_read_when_they_were_put_back(fair_told: Any) -> None:
    # Lisbon puts its clocks back on 2031-10-26 at 01:00 UTC (IANA time zone database).
    starts_at = datetime(2031, 10, 25, 23, tzinfo=UTC)
    scene: Scene = replace(
        fair_told.scene, starts_at=starts_at, ends_at=starts_at + timedelta(hours=25), data_from=starts_at,
        data_to=starts_at + timedelta(hours=25),
    )  # fmt: skip
    (noon,) = [tick for tick in clock_ticks(scene, WIDE) if tick["at"] == 13.0]
    assert (noon["clock"], noon["day"]) == ("12", "")


def test_a_day_that_would_be_cut_at_the_edge_is_told_in_fewer_letters(fair_told: Any) -> None:
    # A campaign that was heard until the morning of its last day.
    end = fair_told.scene.starts_at + timedelta(days=20, hours=9)
    scene: Scene = replace(fair_told.scene, ends_at=end, data_to=end)
    for frame in (WIDE, NARROW, HALL):
        for tick in clock_ticks(scene, frame):
            at_px = tick["at"] / scene.hours(scene.shown_to) * frame.plot_px
            assert at_px + frame.width_of(tick["day"]) <= frame.plot_px + frame.letter_px * 2
    assert [tick["day"] for tick in clock_ticks(scene, WIDE)][-2:] == ["Tue 27 May", "29"]


def test_nothing_is_drawn_across_hours_that_were_not_heard() -> None:
    heard = unbroken([{"hour": hour + 0.5, "top": hour} for hour in (7, 0, 1, 5)], 1.0)
    assert [(point["stretch"], point["hour"], point["top"]) for point in heard] == [
        (0, 0.0, 0), (0, 0.5, 0), (0, 1.5, 1), (0, 2.0, 1),
        (1, 5.0, 5), (1, 5.5, 5), (1, 6.0, 5),
        (2, 7.0, 7), (2, 7.5, 7), (2, 8.0, 7),
    ]  # fmt: skip


@pytest.mark.parametrize("view", ["flow.steps_by_level", "air.moisture"])
def test_a_course_over_time_breaks_where_nothing_was_heard(view: str, fair_told: Any) -> None:
    rows = [
        {"level": "track", "height_m": 0.0, "zone": "hall", "steps": 10 + turn, "dew_point_c": 9.0 + turn}
        | {"at": at, "minute_at": at}
        for turn in range(9)
        if (at := fair_told.scene.shown_from + timedelta(minutes=30 * turn))
    ]
    every = {"every_min": "30"}
    whole, broken = (
        to_svg(PICTURES[view](Answer(view, heard, every), fair_told.scene, WIDE) or {}, WIDE).count("<path")
        for heard in (rows, rows[:3] + rows[6:])
    )
    assert broken > whole


def test_a_long_name_is_cut_and_the_other_beside_it_stays_whole() -> None:
    profile = Profile("Melon row", "Water content of the soil by volume", (), NINE, "+13")
    cut = profile.name_within(NARROW.plot_px / 2, NARROW)
    assert re.fullmatch("Water .*…, Melon row", cut)
    assert NARROW.width_of(cut) <= NARROW.plot_px / 2
    both = Profile("Z" * 60, "M" * 60, (), NINE, "+13").name_within(NARROW.plot_px / 2, NARROW)
    assert re.fullmatch("M+…, Z+…", both)
    assert NARROW.width_of(both) <= NARROW.plot_px / 2


def test_a_drawing_in_a_page_has_its_own_ids_and_takes_its_colours_from_the_page(fair_told: Any) -> None:
    answer = fair_told.ask("fleet.state", {})
    chart = PICTURES["fleet.state"](answer, fair_told.scene, WIDE)
    assert chart is not None
    svg = within_page(to_svg(chart, WIDE), "fleet-0")
    assert "var(--crowd)" in svg
    assert LIGHT.crowd not in svg
    assert 'width="' not in svg.split(">")[0]


def test_a_png_is_one(fair_told: Any) -> None:
    frame = replace(WIDE, palette=DARK)
    chart = PICTURES["fleet.state"](fair_told.ask("fleet.state", {}), fair_told.scene, frame)
    assert chart is not None
    assert to_png(chart, frame).startswith(b"\x89PNG")


def test_one_place_over_weeks_is_a_row_for_each_day_on_the_campaigns_clocks(fair_told: Any) -> None:
    scene: Scene = replace(
        fair_told.scene,
        ends_at=fair_told.scene.starts_at + timedelta(days=21),
        data_to=fair_told.scene.starts_at + timedelta(days=21),
    )
    rows = [
        strip_row(9.0, 8.0, 10.0, 50.0) | {"at": scene.starts_at + timedelta(days=day, hours=15)}
        for day in range(21)
    ]
    chart = PICTURES["change.since_baseline"](Answer("change.since_baseline", rows), scene, WIDE)
    assert chart is not None
    cells = chart["layer"][1]["data"]["values"]
    assert [cell["lane"] for cell in cells] == list(range(21))
    assert {(cell["from"], cell["to"]) for cell in cells} == {(15.0, 16.0)}


def test_the_change_that_is_told_stands_on_the_course_of_its_place(fair_told: Any) -> None:
    answer = fair_told.ask("change.since_baseline", {})
    chart = PICTURES["change.since_baseline"](answer, fair_told.scene, WIDE)
    assert chart is not None
    said = values_in(chart)
    (changes,) = [section for section in fair_told.story.sections if section.key == "changes"]
    for point in changes.points:
        assert point.head.rpartition(" ")[2] in said
    assert "rise_4" in said


def test_strips_of_forty_zones_over_four_days_that_change_every_hour_stay_small(fair_told: Any) -> None:
    """Eight measures of them, wide and narrow, leave room for the rest of a page of three megabytes."""
    scene = replace(
        fair_told.scene,
        zones={
            f"z{number}": replace(fair_told.scene.zones["hall"], zone=f"z{number}") for number in range(40)
        },
        ends_at=fair_told.scene.starts_at + timedelta(days=4),
        data_to=fair_told.scene.starts_at + timedelta(days=4),
    )
    rows = [
        strip_row(1.0 + hour % 5, 0.9, 9.0, 50.0)
        | {"zone": f"z{zone}", "at": scene.starts_at + timedelta(hours=hour)}
        for zone in range(40)
        for hour in range(96)
    ]
    for frame in (WIDE, NARROW):
        chart = PICTURES["change.since_baseline"](Answer("change.since_baseline", rows), scene, frame)
        assert chart is not None
        assert len(within_page(to_svg(chart, frame), "strips-0")) < 140_000
