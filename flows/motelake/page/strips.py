"""What was louder, warmer or stuffier than its own quiet hours: a strip of time for each zone."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta
from math import floor, log10
from typing import Any

from motelake.page import words
from motelake.page.answers import Answer, Ask, Row
from motelake.page.drawing import Chart, Frame
from motelake.page.figures import Figure, Section
from motelake.page.marks import along_clock, lane, layer, over_time, row_names, stacked
from motelake.page.scene import Scene

QUESTION = "What was loud, warm or stuffy against its own quiet hours?"
# From the e-handbook that change.since_baseline names: beyond this a score is called unusual.
UNUSUAL = 3.5
STEPS = 5
_MOST_WITH_HEADINGS = 60
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


def draw_strips(answer: Answer, scene: Scene, frame: Frame) -> Chart | None:
    """A row for each zone, highest storey first; colour is the change against the zone's quiet hours."""
    rows = [row for row in answer.rows if row["change"] is not None]
    measures = {row["measure"] for row in rows}
    if len(measures) != 1:
        return None
    measure = measures.pop()
    seen = {row["zone"] for row in rows}
    zones = _storeys_and_zones(seen, scene)
    names = ["" if zone in scene.levels else scene.place(zone) for zone in zones]
    storeys = [words.name(zone) if zone in scene.levels else "" for zone in zones]
    frame = frame.with_margin(min(34, max(map(len, names))))
    width = class_width(rows)
    length = timedelta(minutes=int(answer.given.get("every_min", "60")))
    cells = _runs(rows, zones, width, length, scene)
    narrow = frame.is_narrow
    lane_px = 36.0 if narrow else frame.lane_px(len(zones)) * 0.85
    labels = _labels(width, scene.unit(measure))
    present = sorted({cell["step"] for cell in cells} | {0})
    colours = frame.palette.named()
    # One colour after the other: the page then holds one shape for each.
    cells.sort(key=lambda cell: (cell["step"], cell["lane"], cell["from"]))
    for cell in cells:
        cell["size"] = labels[cell.pop("step") + STEPS]
    strips = layer(
        "rect",
        cells,
        {
            "x": along_clock("from", scene),
            "x2": {"field": "to"},
            "y": lane(len(zones)),
            "color": {
                "field": "size",
                "type": "nominal",
                "scale": {
                    "domain": [labels[step + STEPS] for step in present],
                    "range": [colours[_COLOURS[step + STEPS]] for step in present],
                },
                "legend": {
                    "orient": "top",
                    "title": None,
                    "direction": "horizontal",
                    "columns": 1 if narrow else 4,
                    "symbolType": "square",
                    "symbolStrokeWidth": 0,
                    "offset": 10,
                },
            },
        },
        height=16 if narrow else lane_px * 0.84,
        yOffset=8 if narrow else 0,
    )
    headings = row_names(storeys, frame, bold=True)
    return over_time(
        stacked([strips, row_names(names, frame), headings], frame, lane_px * len(zones)), scene, frame
    )


def _storeys_and_zones(seen: set[str], scene: Scene) -> list[str]:
    """The zones that were heard, highest storey first, the name of each storey before them if several are."""
    zones = [zone for zone in scene.zones_downwards() if zone in seen]
    levels = list(dict.fromkeys(scene.zones[zone].level for zone in zones))
    if len(levels) < 2 or len(zones) > _MOST_WITH_HEADINGS or any(level in seen for level in levels):
        return zones
    return [
        one
        for level in levels
        for one in (level or "", *(zone for zone in zones if scene.zones[zone].level == level))
        if one
    ]


def _runs(
    rows: list[Row], zones: list[str], width: float, length: timedelta, scene: Scene
) -> list[dict[str, Any]]:
    # Neighbouring spans of one colour are one rectangle: the page stays small and the strips have no seams.
    runs: list[dict[str, Any]] = []
    for row in sorted(rows, key=lambda row: (row["zone"], row["at"])):
        if row["zone"] not in zones:
            continue
        number, step = zones.index(row["zone"]), step_of(row, width)
        start = scene.hours(row["at"])
        end = min(scene.hours(row["at"] + length), scene.hours(scene.shown_to))
        last = runs[-1] if runs else None
        if last and (last["lane"], last["step"]) == (number, step) and abs(last["to"] - start) < 1e-6:
            last["to"] = end
        elif end > start >= 0:
            runs.append({"lane": number, "step": step, "from": start, "to": end})
    return runs


def _labels(width: float, unit: str | None) -> list[str]:
    shown = f" {words.unit(unit)}" if words.unit(unit) else ""
    bounds = [words.number(step * width, 3) for step in range(STEPS + 1)]
    sizes = [f"{bounds[step]} to {bounds[step + 1]}" for step in range(STEPS - 1)] + [
        f"over {bounds[STEPS - 1]}"
    ]
    sizes[0] = f"up to {bounds[1]}"
    lower = [f"{size}{shown} lower" for size in reversed(sizes)]
    return [*lower, "not sure, or none", *(f"{size}{shown} higher" for size in sizes)]


def tell_strips(ask: Ask, scene: Scene) -> Section:
    """The section on what stood above or below its own quiet hours, with a choice of measure."""
    hours = scene.hours(scene.shown_to)
    given = {} if hours <= 120 else {"every_min": "120" if hours <= 240 else "360"}
    whole = ask("change.since_baseline", given)
    figures: list[tuple[float, Figure]] = []
    # The crowd has a section of its own, so what it leaves in the air comes first here.
    for measure in sorted(
        scene.measures, key=lambda one: (scene.measures[one].role == "crowd", scene.rank(one))
    ):
        rows = [row for row in whole.rows if row["measure"] == measure] if whole else []
        if whole is None or not rows:
            continue
        sure = [row for row in rows if is_sure(row)]
        answer = replace(whole, rows=rows, given={"measure": measure} | given)
        title = scene.measure_title(measure)
        figure = Figure(
            title,
            f"{title}: {_summary(sure, scene, measure)}",
            answer,
            draw_strips,
            reading="One strip for each zone, highest storey first. Colour is the zone's change against "
            "its own quiet hours; pale where it is not sure, blank where nothing was heard.",
            columns=("zone", "at", "change", "low", "high", "score", "n"),
        )
        figures.append((len(sure) / len(rows), figure))
    if not figures:
        return Section("strips", QUESTION, "There are no quiet hours to compare with.")
    figures.sort(key=lambda one: one[0] == 0)
    away = [(share, figure) for share, figure in figures if share]
    told = away[0][1].says if away else "Nothing surely left its quiet hours."
    more = [
        "Share of all hours and zones that were surely away from their quiet hours: "
        + words.listed([f"{words.inner(figure.name)} {words.share(share)}" for share, figure in away])
        + "."
    ] * bool(away)
    return Section(
        "strips",
        QUESTION,
        told,
        more,
        figures=[figure for _, figure in figures],
        choose="Show the measure",
        caution=CAUTION,
    )


def _summary(sure: list[Row], scene: Scene, measure: str) -> str:
    if not sure:
        return "no hour of any zone is surely away from its quiet hours."
    top = max(sure, key=lambda row: abs(row["change"]))
    size = words.with_unit(words.signed(top["change"]), scene.unit(measure))
    return f"furthest away at {scene.place(top['zone'])}, {size}, {words.moment(top['at'], scene.time_zone)}."


CAUTION = (
    "These are changes of uncalibrated motes against themselves, not sound levels or air quality in the "
    "sense of any standard. They are not for safety or compliance: local codes and licensed practice "
    "decide."
)
