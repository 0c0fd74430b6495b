"""Colours for changes against quiet hours: five steps to either side, none where a change is not sure."""

from collections.abc import Sequence
from math import ceil, floor, log10

from motelake.page import words
from motelake.page.answers import Row
from motelake.page.drawing import Chart, Frame
from motelake.page.marks import layer, text_of

# From the e-handbook that change.since_baseline names: beyond this a score is called unusual.
UNUSUAL = 3.5
STEPS = 5
_COLOURS = (
    *(f"fall_{step}" for step in range(STEPS, 0, -1)),
    "quiet",
    *(f"rise_{step}" for step in range(1, STEPS + 1)),
)


def is_sure(row: Row) -> bool:
    """True where a change is unusual and its interval, where it has one, leaves out nought."""
    if row["score"] is None or abs(row["score"]) <= UNUSUAL:
        return False
    if "low" not in row:
        return True
    return row["low"] is not None and bool(row["low"] > 0 or row["high"] < 0)


def class_width(rows: Sequence[Row]) -> float:
    """A round width of a colour's step, so that five steps reach the largest sure changes."""
    sizes = sorted(abs(row["change"]) for row in rows if is_sure(row))
    if not sizes:
        return 1.0
    raw = sizes[int(0.98 * (len(sizes) - 1))] / (STEPS - 0.5) or 1.0
    power = 10.0 ** floor(log10(raw))
    return next(step * power for step in (1, 2, 2.5, 5, 10) if step * power >= raw)


def step_of(row: Row, width: float) -> int:
    """The colour's step of a change, -5 to 5; nought where it is not sure."""
    if not is_sure(row):
        return 0
    size = min(STEPS - 1, int(abs(row["change"]) / width)) + 1
    return size if row["change"] > 0 else -size


def labels_of(width: float, unit: str | None) -> list[str]:
    """What each step is called, from the furthest below to the furthest above."""
    named = words.unit_of_difference(unit)
    shown = f" {named}" if named else ""
    bounds = [words.number(step * width, 3) for step in range(STEPS + 1)]
    sizes = [f"{bounds[step]} to {bounds[step + 1]}" for step in range(STEPS - 1)] + [
        f"over {bounds[STEPS - 1]}"
    ]
    sizes[0] = f"up to {bounds[1]}"
    lower = [f"{size}{shown} lower" for size in reversed(sizes)]
    return [*lower, "not sure, or none", *(f"{size}{shown} higher" for size in sizes)]


def colouring(present: Sequence[int], labels: Sequence[str], frame: Frame) -> Chart:
    """The column `size` of labels as colour."""
    colours = frame.palette.named()
    return {
        "field": "size",
        "type": "nominal",
        "scale": {
            "domain": [labels[step + STEPS] for step in present],
            "range": [colours[_COLOURS[step + STEPS]] for step in present],
        },
        "legend": None,
    }


def key(present: Sequence[int], labels: Sequence[str], frame: Frame) -> list[Chart]:
    """What the colours of the steps that are present mean, above a picture, in as many columns as fit."""
    colours = frame.palette.named()
    letter = frame.letter_px
    names = [labels[step + STEPS] for step in present]
    column_px = max(map(frame.width_of, names)) + letter * 3.4
    columns = max(1, min(4, int((frame.plot_px + letter) / column_px)))
    # The last line ends ten pixels above the picture.
    top = -10 - letter * 1.5 * (ceil(len(names) / columns) - 0.5)
    entries = [
        {
            "x": place % columns * column_px,
            "y": top + place // columns * letter * 1.5,
            "name": name,
            "colour": colours[_COLOURS[step + STEPS]],
        }
        for place, (step, name) in enumerate(zip(present, names, strict=True))
    ]
    where = {way: {"field": way, "type": "quantitative", "scale": None} for way in ("x", "y")}
    return [
        layer(
            "point",
            entries,
            where | {"color": {"field": "colour", "type": "nominal", "scale": None}},
            shape="square",
            filled=True,
            opacity=1,
            size=letter * 10,
            xOffset=letter * 0.5,
        ),
        layer(
            "text",
            entries,
            where | {"text": text_of("name")},
            align="left",
            dx=letter * 1.3,
            dy=1,
            color=frame.palette.ink,
        ),
    ]
