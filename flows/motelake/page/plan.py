"""Where motes and gateways are: storeys from the top down, their zones as boxes, a mark for each mote."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import ceil

from motelake.page import words
from motelake.page.answers import Answer
from motelake.page.drawing import Chart, Frame
from motelake.page.marks import layer, quantity, stacked, text_of
from motelake.page.scene import Scene
from motelake.page.states import GATEWAY, by_state, rank

NOWHERE = "in no zone"
# From line to line of a title, in letters.
_LINE = 1.15
# From across a hall the whole building must fit at once, in the largest letters that let it.
_FAR_PX, _FAR_LETTERS_PX = 560.0, (24, 20, 17, 15)


@dataclass(frozen=True)
class _Box:
    """A zone's box in pixels, with what is in it; marks stand in rows of `across`."""

    left: float
    top: float
    width: float
    height: float
    title: tuple[str, ...]
    marks: tuple[str, ...]
    marks_top: float
    across: int


def draw_plan(answer: Answer, scene: Scene, frame: Frame) -> Chart | None:
    """A mark for each mote in the zone it is in now; its shape and colour are its state."""
    if not answer.rows:
        return None
    frame = replace(frame, margin_px=4)
    inside: dict[str, list[str]] = {}
    for row in answer.rows:
        inside.setdefault(row["zone"] or NOWHERE, []).append(row["state"])
    for gateway in scene.gateways:
        inside.setdefault(gateway.zone or NOWHERE, []).append(GATEWAY)
    boxes, storeys, height = _laid_out(inside, scene, frame)
    for letter_px in _FAR_LETTERS_PX if frame.is_far else ():
        frame = replace(frame, letter_px=letter_px)
        boxes, storeys, height = _laid_out(inside, scene, frame)
        if height <= _FAR_PX:
            break
    step = _step(frame)
    marks: list[Chart] = [
        {
            "x": box.left + step * (0.9 + place % box.across),
            "y": box.marks_top + step * (0.5 + place // box.across),
            "state": state,
        }
        for box in boxes
        for place, state in enumerate(sorted(box.marks, key=rank))
    ]
    across, down = quantity("x", [0, frame.plot_px]), quantity("y", [0, height], reverse=True)
    where = {"x": across, "y": down}
    legend = {
        "orient": "top",
        "title": None,
        "offset": 8,
        "direction": "horizontal",
        "columns": 3 if frame.is_narrow else 6,
    }
    outlines = [
        {"x": box.left, "right": box.left + box.width, "y": box.top, "bottom": box.top + box.height}
        for box in boxes
    ]
    titles = [
        {
            "x": box.left + 7,
            "y": box.top + frame.letter_px * (1.0 + _LINE * number),
            "text": line,
        }
        for box in boxes
        for number, line in enumerate(box.title)
    ]
    layers = [
        layer(
            "rect",
            outlines,
            where | {"x2": {"field": "right"}, "y2": {"field": "bottom"}},
            fill=frame.palette.card,
            stroke=frame.palette.line,
        ),
        layer(
            "text",
            titles,
            where | {"text": text_of("text")},
            align="left",
            fontSize=frame.letter_px,
            color=frame.palette.ink,
        ),
        layer(
            "text",
            storeys,
            where | {"text": text_of("text")},
            align="left",
            fontWeight="bold",
            fontSize=frame.letter_px,
            color=frame.palette.soft,
        ),
        layer(
            "point",
            marks,
            where | by_state([mark["state"] for mark in marks], frame, legend),
            filled=True,
            opacity=1,
            size=step * step * 0.5,
        ),
    ]
    return stacked(layers, frame, height)


def _in_two_lines(title: str, frame: Frame, room_px: float) -> tuple[str, ...]:
    """A title broken between words where it is too long for its box."""
    if frame.width_of(title) <= room_px:
        return (title,)
    first, *others = title.split(" ")
    while others and frame.width_of(f"{first} {others[0]}") <= room_px:
        first = f"{first} {others.pop(0)}"
    lines = (first, " ".join(others)) if others else (first,)
    return tuple(frame.fitted(line, room_px) for line in lines)


def _step(frame: Frame) -> float:
    return frame.letter_px * 1.15


def _laid_out(
    inside: Mapping[str, list[str]], scene: Scene, frame: Frame
) -> tuple[list[_Box], list[Chart], float]:
    gap = 8.0
    line = frame.letter_px * 1.6
    levels: dict[str, list[str]] = {}
    for zone in scene.zones_downwards():
        levels.setdefault(scene.zones[zone].level or "", []).append(zone)
    if NOWHERE in inside:
        levels[NOWHERE] = [NOWHERE]
    boxes: list[_Box] = []
    storeys: list[Chart] = []
    top = 0.0
    for level, zones in levels.items():
        most = 2 if frame.is_narrow else 11 if frame.is_far else 5
        columns = min(len(zones), most) if level != NOWHERE else 1
        width = (frame.plot_px - gap * (columns - 1)) / columns
        across = max(1, int((width - 8) / _step(frame)))
        if level != NOWHERE:
            storeys.append(
                {"x": 0, "y": top + line * 0.55, "text": frame.fitted(words.name(level), frame.plot_px)}
            )
            top += line
        for start in range(0, len(zones), columns):
            row = {
                zone: _in_two_lines(NOWHERE if zone == NOWHERE else scene.place(zone), frame, width - 12)
                for zone in zones[start : start + columns]
            }
            marks_top = top + frame.letter_px * (0.6 + _LINE * max(map(len, row.values())))
            deepest = max(1, *(ceil(len(inside.get(zone, ())) / across) for zone in row))
            height = marks_top - top + _step(frame) * (deepest + 0.4)
            for column, (zone, title) in enumerate(row.items()):
                left = column * (width + gap)
                marks = tuple(inside.get(zone, ()))
                boxes.append(_Box(left, top, width, height, title, marks, marks_top, across))
            top += height + gap
        top += gap
    return boxes, storeys, top
