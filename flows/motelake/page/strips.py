"""What was louder, warmer or stuffier than its own quiet hours: a strip of time for each zone."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from motelake.page import words
from motelake.page.answers import Answer, Ask, Row
from motelake.page.calendar import draw_days
from motelake.page.drawing import Chart, Frame
from motelake.page.figures import Figure, Section
from motelake.page.marks import along_clock, lane, layer, over_time, row_names, stacked
from motelake.page.scene import Scene
from motelake.page.shades import STEPS, class_width, colouring, is_sure, key, labels_of, step_of

QUESTION = "What was loud, warm or stuffy against its own quiet hours?"
_MOST_WITH_HEADINGS = 60
_MOST_FROM_FAR = 16
# Beyond, one place is shown by days and hours instead of along one line.
LONG_H = 24 * 9


def draw_strips(answer: Answer, scene: Scene, frame: Frame) -> Chart | None:
    """A row for each zone, highest storey first; colour is the change against the zone's quiet hours."""
    rows = [row for row in answer.rows if row["change"] is not None]
    measures = {row["measure"] for row in rows}
    if len(measures) != 1:
        return None
    measure = measures.pop()
    seen = {row["zone"] for row in rows}
    if len(seen) == 1 and scene.hours(scene.shown_to) > LONG_H:
        return draw_days(rows, answer, scene, frame)
    if frame.is_far and len(seen) > _MOST_FROM_FAR:
        seen = _furthest(rows)
    zones = _storeys_and_zones(seen, scene)
    names = ["" if zone in scene.levels else scene.place(zone) for zone in zones]
    storeys = [words.name(zone) if zone in scene.levels else "" for zone in zones]
    frame = frame.with_names(names)
    width = class_width(rows)
    every_h = int(answer.given.get("every_min", "60")) / 60
    cells = _runs(rows, zones, width, every_h, scene)
    narrow = frame.is_narrow
    lane_px = 36.0 if narrow else frame.lane_px(len(zones)) * 0.85
    labels = labels_of(width, scene.unit(measure))
    present = sorted({cell["step"] for cell in cells} | {0})
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
            "color": colouring(present, labels, frame),
        },
        height=16 if narrow else lane_px * 0.84,
        yOffset=8 if narrow else 0,
    )
    headings = row_names(storeys, frame, bold=True)
    layers = [strips, row_names(names, frame), headings, *key(present, labels, frame)]
    return over_time(stacked(layers, frame, lane_px * len(zones)), scene, frame)


def _furthest(rows: Sequence[Row]) -> set[str]:
    """The zones that went furthest from their quiet hours for sure."""
    reach: dict[str, float] = {}
    for row in rows:
        reach[row["zone"]] = max(reach.get(row["zone"], 0.0), abs(row["change"]) if is_sure(row) else 0.0)
    return set(sorted(reach, key=lambda zone: (-reach[zone], zone))[:_MOST_FROM_FAR])


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
    rows: list[Row], zones: list[str], width: float, every_h: float, scene: Scene
) -> list[dict[str, Any]]:
    # Neighbouring spans of one colour are one rectangle: the page stays small and the strips have no seams.
    lanes = {zone: number for number, zone in enumerate(zones)}
    until = scene.hours(scene.shown_to)
    runs: list[dict[str, Any]] = []
    for row in sorted(rows, key=lambda row: (row["zone"], row["at"])):
        number = lanes.get(row["zone"])
        if number is None:
            continue
        step, start = step_of(row, width), scene.hours(row["at"])
        end = min(start + every_h, until)
        last = runs[-1] if runs else None
        if last and (last["lane"], last["step"]) == (number, step) and abs(last["to"] - start) < 1e-6:
            last["to"] = end
        elif end > start >= 0:
            runs.append({"lane": number, "step": step, "from": start, "to": end})
    return runs


def tell_strips(ask: Ask, scene: Scene) -> Section:
    """The section on what stood above or below its own quiet hours, with a choice of measure."""
    hours = scene.hours(scene.shown_to)
    is_by_day = hours > LONG_H and len(scene.zones) == 1
    given = {} if hours <= 120 or is_by_day else {"every_min": "120" if hours <= 240 else "360"}
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
            reading=(
                "One row for each day, its hours from left to right. "
                if is_by_day
                else "One strip for each zone, highest storey first; from far the zones furthest from quiet. "
            )
            + "Colour is the zone's change against "
            "its own quiet hours; grey where it is not sure, blank where nothing was heard.",
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
    size = words.difference(top["change"], scene.unit(measure))
    return (
        f"furthest from quiet at {scene.place(top['zone'])}, {size} "
        f"({words.interval(top['low'], top['high'])}), {words.moment(top['at'], scene.time_zone)}."
    )


CAUTION = (
    "These are changes of uncalibrated motes against themselves, not sound levels or air quality in the "
    "sense of any standard. They are not for safety or compliance: local codes and licensed practice "
    "decide."
)
