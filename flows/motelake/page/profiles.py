"""Courses through the campaign, a row for each, with the one moment in each that is spoken of."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from motelake.page import words
from motelake.page.drawing import Chart, Frame
from motelake.page.marks import (
    along_clock,
    bars_on_floors,
    lane,
    layer,
    over_time,
    row_names,
    stacked,
    text_of,
)
from motelake.page.scene import Scene

# Of a row's height: what is left free above its course for the words, and how much the course takes.
_TOP, _FILL = -0.14, 0.58
_LEAST_PX = 180.0
_LINE = -0.34


@dataclass(frozen=True)
class Span:
    """A stretch of time with its difference from what is usual."""

    start: datetime
    end: datetime
    change: float
    is_sure: bool


@dataclass(frozen=True)
class Profile:
    """A course with the zone and the measure that it is of, and the words at one moment of it."""

    zone: str
    measure: str
    spans: Sequence[Span]
    told_at: datetime
    text: str

    @property
    def name(self) -> str:
        """What it is called where there is room."""
        return f"{self.zone}, {words.inner(self.measure)}"

    def name_within(self, room_px: float, frame: Frame) -> str:
        """What it is called in so much room: the longer of its names is cut first."""
        room_px -= frame.width_of(", ")
        zone_px, measure_px = frame.width_of(self.zone), frame.width_of(self.measure)
        measure = frame.fitted(self.measure, max(room_px - zone_px, min(room_px / 2, measure_px)))
        return f"{measure}, {frame.fitted(self.zone, room_px - frame.width_of(measure))}"


def draw_profiles(profiles: Sequence[Profile], scene: Scene, frame: Frame) -> Chart | None:
    """A row for each course, up from its own nought for more and down for less, each on its own scale."""
    if not profiles:
        return None
    frame = frame.with_names(profile.name for profile in profiles)
    narrow = frame.is_narrow
    bars: list[Chart] = []
    floors: list[Chart] = []
    told: list[Chart] = []
    end = scene.hours(scene.shown_to)
    for number, profile in enumerate(profiles):
        highest = max([0.0, *(span.change for span in profile.spans)])
        lowest = min([0.0, *(span.change for span in profile.spans)])
        reach = (highest - lowest) or 1.0
        nought = number + _TOP + _FILL * highest / reach
        floors += _heard(profile.spans, nought, scene)
        for span in profile.spans:
            start, stop = max(0.0, scene.hours(span.start)), min(end, scene.hours(span.end))
            if stop > start and span.change:
                way = "rise" if span.change > 0 else "fall"
                bars.append(
                    {
                        "from": start,
                        "to": stop,
                        "lane": nought,
                        "tip": nought - _FILL * span.change / reach,
                        "way": f"{way}_{4 if span.is_sure else 2}",
                    }
                )
        at = scene.hours(profile.told_at)
        told.append({"hour": at, "lane": number + _TOP, "text": profile.text, "is_late": at > end * 0.6})
    named = frame.palette.named()
    colours = {name: named[name] for name in ("fall_2", "fall_4", "rise_2", "rise_4")}
    layers = bars_on_floors(bars, floors, len(profiles), colours=colours, scene=scene, frame=frame)
    layers += _above(told, profiles, scene, frame) if narrow else _beside(told, profiles, scene, frame)
    row_px = 74.0 if narrow else min(frame.row_px * 1.75, frame.most_px / len(profiles))
    # A campaign of one place and measure has room for its only course.
    row_px = max(row_px, min(_LEAST_PX, frame.most_px) / len(profiles))
    return over_time(stacked(layers, frame, row_px * len(profiles)), scene, frame)


def _heard(spans: Sequence[Span], nought: float, scene: Scene) -> list[Chart]:
    """The stretches in which a course was heard, each as a floor at its nought."""
    stretches: list[Chart] = []
    for span in sorted(spans, key=lambda span: span.start):
        start, stop = (
            max(0.0, scene.hours(span.start)),
            min(scene.hours(scene.shown_to), scene.hours(span.end)),
        )
        if stretches and start <= stretches[-1]["to"] + 1e-6:
            stretches[-1]["to"] = stop
        elif stop > start:
            stretches.append({"lane": nought, "from": start, "to": stop})
    return stretches


def _beside(told: Sequence[Chart], profiles: Sequence[Profile], scene: Scene, frame: Frame) -> list[Chart]:
    """Names left of the courses, the words above what they tell, beside a mark."""
    y = lane(len(profiles))
    words_at = [
        layer(
            "text",
            [one for one in told if one["is_late"] is is_late],
            {"x": along_clock("hour", scene), "y": y, "text": text_of("text")},
            align="right" if is_late else "left",
            dx=-frame.letter_px * 0.6 if is_late else frame.letter_px * 0.6,
            dy=-frame.letter_px * 0.55,
            fontWeight="bold",
            color=frame.palette.ink,
        )
        for is_late in (False, True)
    ]
    names = row_names([profile.name for profile in profiles], frame, dy=frame.letter_px * 0.6)
    return [names, *words_at, _pointers(told, profiles, scene, frame)]


def _above(told: Sequence[Chart], profiles: Sequence[Profile], scene: Scene, frame: Frame) -> list[Chart]:
    """Names and words in a line of their own above the courses, and a mark where the words belong."""
    y = lane(len(profiles))
    names = [
        {
            "lane": number + _LINE,
            "text": profile.name_within(frame.plot_px - frame.width_of(profile.text) - 6, frame),
        }
        for number, profile in enumerate(profiles)
    ]
    ends = [{"lane": number + _LINE, "text": profile.text} for number, profile in enumerate(profiles)]
    lines = [
        layer(
            "text",
            rows,
            {"x": {"value": at_px}, "y": y, "text": text_of("text")},
            align=side,
            fontWeight="bold" if side == "right" else "normal",
            color=frame.palette.ink,
        )
        for side, at_px, rows in (("left", 0, names), ("right", frame.plot_px, ends))
    ]
    return [*lines, _pointers(told, profiles, scene, frame)]


def _pointers(told: Sequence[Chart], profiles: Sequence[Profile], scene: Scene, frame: Frame) -> Chart:
    return layer(
        "point",
        told,
        {"x": along_clock("hour", scene), "y": lane(len(profiles))},
        shape="triangle-down",
        filled=True,
        opacity=1,
        size=frame.letter_px * 2.6,
        yOffset=-frame.letter_px * 0.35,
        color=frame.palette.ink,
    )
