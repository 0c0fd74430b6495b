"""Parts of charts that several pictures share: scales, the campaign's clocks, closed hours, the programme."""

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime, timedelta
from typing import Any

from motelake.page import words
from motelake.page.drawing import Chart, Frame
from motelake.page.scene import Scene

_STEPS_H = (1, 2, 3, 6, 12, 24, 48, 96, 168, 336)
_MOST_KINDS = 8


def layer(mark: str, rows: Sequence[Chart], encoding: Chart, **options: Any) -> Chart:
    """One kind of mark, a mark for each row."""
    # Numbers are numbers already: reading them again as such took a tenth of the drawing.
    data = {"values": list(rows), "format": {"parse": None}}
    return {"data": data, "mark": {"type": mark, **options}, "encoding": encoding}


def quantity(
    name: str, domain: Sequence[float] | None = None, *, axis: Chart | None = None, **scale: Any
) -> Chart:
    """A column of numbers along a scale."""
    shown: Chart = {"nice": False, "zero": False, **scale}
    if domain is not None:
        shown["domain"] = list(domain)
    return {"field": name, "type": "quantitative", "scale": shown, "axis": axis}


def lane(count: int) -> Chart:
    """The column `lane` as rows from the top down."""
    return quantity("lane", [-0.5, max(count, 1) - 0.5], reverse=True)


def text_of(name: str) -> Chart:
    """A column of texts to be written."""
    return {"field": name, "type": "nominal"}


def stacked(layers: Sequence[Chart], frame: Frame, height: float, width: float | None = None) -> Chart:
    """Layers one upon the other, held to the frame's whole width, so that all letters come out alike."""
    plot = frame.plot_px if width is None else width
    held = layer(
        "rect",
        [{}],
        {
            "x": {"value": -frame.margin_px},
            "x2": {"value": plot + frame.letter_px * 2 - 2},
            "y": {"value": 0},
            "y2": {"value": 1},
        },
        opacity=0,
    )
    return {"layer": [held, *layers], "width": plot, "height": height}


def row_names(names: Sequence[str], frame: Frame, *, bold: bool = False, dy: float = 0) -> Chart:
    """The names of rows: left of them, or above them where the screen is narrow."""
    narrow = frame.is_narrow
    room = frame.plot_px if narrow else frame.margin_px - 12
    letter = frame.letter_px if narrow else min(frame.letter_px, frame.lane_px(len(names)) * 0.8)
    rows = [{"lane": number, "name": frame.fitted(name, room)} for number, name in enumerate(names) if name]
    return layer(
        "text",
        rows,
        {"x": {"value": 0}, "y": lane(len(names)), "text": text_of("name")},
        align="left" if narrow else "right",
        dx=0 if narrow else -10,
        dy=-10 if narrow else dy,
        fontWeight="bold" if bold else "normal",
        fontSize=letter,
        color=frame.palette.ink,
    )


def along_clock(name: str, scene: Scene, axis: Chart | None = None) -> Chart:
    """A column of hours since the pictures' time begins, from left to right."""
    return quantity(name, [0, scene.hours(scene.shown_to)], axis=axis, clamp=True)


def unbroken(points: Sequence[Chart], every_h: float) -> list[Chart]:
    """Points in the middle of spans along `hour`, as stretches in which no span is missing.

    `stretch` numbers them; each begins and ends where its first and last span do. A line or an area of its
    own for each stretch invents nothing for what was not heard.
    """
    stretches: list[list[Chart]] = []
    for point in sorted(points, key=lambda point: point["hour"]):
        if not stretches or point["hour"] - stretches[-1][-1]["hour"] > 1.5 * every_h:
            stretches.append([])
        stretches[-1].append(point)
    return [
        point | {"stretch": number}
        for number, stretch in enumerate(stretches)
        for point in (
            stretch[0] | {"hour": stretch[0]["hour"] - every_h / 2},
            *stretch,
            stretch[-1] | {"hour": stretch[-1]["hour"] + every_h / 2},
        )
    ]


def closed_hours(scene: Scene, frame: Frame) -> Chart:
    """The hours outside opening as a shade behind a picture."""
    rows = [{"from": start, "to": end} for start, end in scene.closed_hours()]
    return layer(
        "rect",
        rows,
        {"x": along_clock("from", scene), "x2": {"field": "to"}},
        color=frame.palette.night,
    )


def bars_on_floors(
    bars: Sequence[Chart],
    floors: Sequence[Chart],
    count: int,
    *,
    colours: Mapping[str, str],
    scene: Scene,
    frame: Frame,
    legend: Chart | None = None,
) -> list[Chart]:
    """Bars along the campaign's clocks in count lanes, each from its floor to its tip.

    Floors have from and to in hours and a lane; a bar has these too, its tip as a lane, and its way, which
    has one of the colours.
    """
    present = [way for way in colours if any(bar["way"] == way for bar in bars)]
    # One colour after the other: the page then holds one shape for each.
    ordered = sorted(bars, key=lambda bar: (present.index(bar["way"]), bar["lane"], bar["from"]))
    y = lane(count)
    stretch = {"x": along_clock("from", scene), "x2": {"field": "to"}}
    return [
        closed_hours(scene, frame),
        layer(
            "rule",
            floors,
            stretch | {"y": y},
            color=frame.palette.soft,
            strokeWidth=0.8,
        ),
        layer(
            "rect",
            ordered,
            stretch
            | {
                "y": y,
                "y2": {"field": "tip"},
                "color": {
                    "field": "way",
                    "type": "nominal",
                    "scale": {"domain": present, "range": [colours[way] for way in present]},
                    "legend": legend,
                },
            },
        ),
    ]


def over_time(chart: Chart, scene: Scene, frame: Frame) -> Chart:
    """A picture over time, with the programme and the campaign's clocks below it."""
    return {"vconcat": [chart, _programme(scene, frame)], "spacing": 8}


def clock_ticks(scene: Scene, frame: Frame) -> list[Chart]:
    """The campaign's clocks along hours since the pictures' time begins: what is read, and at times the day.

    Ticks stand at whole local hours, so that a clock that is put forward or back is shown as it was read.
    """
    total = scene.hours(scene.shown_to)
    room = max(2, int(frame.plot_px / (frame.letter_px * 4.2)))
    step = next((step for step in _STEPS_H if total / step <= room), _STEPS_H[-1])
    days_apart = frame.plot_px * 24 * max(1, step // 24) / total
    ticks: list[Chart] = []
    date = scene.shown_from.astimezone(scene.time_zone).date()
    while True:
        for hour in range(0, 24, min(step, 24)):
            wall = datetime(date.year, date.month, date.day, hour, tzinfo=scene.time_zone).astimezone(UTC)
            at = scene.hours(wall)
            if at >= total:
                return ticks
            if at < 0:
                continue
            forms = {f"{date:%a} {date.day} {date:%b}": 6, f"{date:%a} {date.day}": 3.2, f"{date.day}": 0}
            room_px = frame.plot_px * (1 - at / total) + frame.letter_px * 2
            named = next(
                form
                for form, letters in forms.items()
                if days_apart > frame.letter_px * letters and (frame.width_of(form) < room_px or not letters)
            )
            clock = f"{hour:02d}" if step < 24 else ""
            ticks.append({"at": round(at, 3), "clock": clock, "day": named if hour == 0 or not ticks else ""})
        date += timedelta(days=max(1, step // 24))


def _clocks(ticks: Sequence[Chart], top_px: float, x: Chart, frame: Frame) -> list[Chart]:
    """The ticks' words in one line or two, below the axis of x at top_px."""
    lines = [line for line in ("clock", "day") if any(tick[line] for tick in ticks)]
    return [
        layer(
            "text",
            [tick for tick in ticks if tick[line]],
            {"x": x, "y": {"value": top_px}, "text": text_of(line)},
            align="left",
            baseline="top",
            dy=10 + number * (frame.letter_px + 2),
            color=frame.palette.soft,
        )
        for number, line in enumerate(lines)
    ]


def _programme(scene: Scene, frame: Frame) -> Chart:
    within = [
        event
        for event in scene.events
        if scene.shown_from < event.ends_at and event.starts_at < scene.shown_to
    ]
    kinds = list(dict.fromkeys(event.kind for event in within if event.kind))[:_MOST_KINDS]
    least = timedelta(hours=scene.hours(scene.shown_to) * 3 / frame.plot_px)
    rows = [
        {
            "from": max(0.0, scene.hours(event.starts_at)),
            "to": scene.hours(min(max(event.ends_at, event.starts_at + least), scene.shown_to)),
            "lane": kinds.index(event.kind),
        }
        for event in within
        if event.kind in kinds
    ]
    height = max(2, (frame.letter_px + (18 if frame.is_narrow else 4)) * len(kinds))
    ticks = clock_ticks(scene, frame)
    axis = {
        "values": [tick["at"] for tick in ticks],
        "labels": False,
        "title": None,
        "grid": False,
        "tickSize": 8,
    }
    bars = layer(
        "rect",
        rows,
        {"x": along_clock("from", scene, axis), "x2": {"field": "to"}, "y": lane(len(kinds))},
        height=9,
        cornerRadius=2,
        yOffset=7 if frame.is_narrow else 0,
        color=frame.palette.soft,
    )
    names = row_names([words.name(kind) for kind in kinds], frame)
    names["mark"] |= {"color": frame.palette.soft, "fontSize": frame.letter_px - 1}
    return stacked(
        [bars, names, *_clocks(ticks, height, along_clock("at", scene, axis), frame)], frame, height
    )
