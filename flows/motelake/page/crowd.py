"""Where the crowd was: the building as a stack of storeys, each with its steps through time."""

from collections.abc import Sequence
from typing import Any

from motelake.page import words
from motelake.page.answers import Answer, Ask
from motelake.page.drawing import Chart, Frame
from motelake.page.figures import Figure, Section
from motelake.page.marks import (
    along_clock,
    closed_hours,
    layer,
    over_time,
    quantity,
    stacked,
    text_of,
    unbroken,
)
from motelake.page.scene import Scene
from motelake.page.shares import busy_rows, draw_shares, fullest_zones
from motelake.page.surges import draw_surges

QUESTION = "Where was the crowd, and which way did it go?"
_FILL = 0.8


def draw_crowd(answer: Answer, scene: Scene, frame: Frame) -> Chart | None:
    """Storeys one above the other as in the building; the height of a hill is the steps of that span."""
    frame = frame.with_margin(18)
    heights = {row["level"]: row["height_m"] or 0.0 for row in answer.rows}
    levels = sorted(heights, key=lambda level: (heights[level], level))
    counted = [row for row in answer.rows if row["steps"] is not None]
    most = max((float(row["steps"]) for row in counted), default=0.0)
    if not most:
        return None
    every_h = int(answer.given.get("every_min", "60")) / 60
    points: list[dict[str, Any]] = [
        {
            "hour": scene.hours(row["at"]) + every_h / 2,
            "floor": levels.index(row["level"]),
            "top": levels.index(row["level"]) + _FILL * float(row["steps"]) / most,
            "text": f"{words.estimate(float(row['steps']), 3)} at {words.clock(row['at'], scene.time_zone)}",
        }
        for row in counted
    ]
    by_floor = [[point for point in points if point["floor"] == floor] for floor in range(len(levels))]
    peaks = [max(hill, key=lambda point: point["top"]) for hill in by_floor if hill]
    heard = [point for hill in by_floor for point in unbroken(hill, every_h)]
    domain = [0, len(levels) + 0.1]
    x = along_clock("hour", scene)
    hills = layer(
        "area",
        heard,
        {
            "x": x,
            "y": quantity("floor", domain),
            "y2": {"field": "top"},
            "detail": [text_of("floor"), text_of("stretch")],
        },
        interpolate="monotone",
        color=frame.palette.crowd,
        fillOpacity=0.6,
    )
    floors = layer(
        "rule",
        _floors(heard),
        {"x": x, "x2": {"field": "to"}, "y": quantity("floor", domain)},
        color=frame.palette.soft,
        strokeWidth=1.2,
    )
    names = layer(
        "text",
        [
            {"floor": floor, "name": frame.fitted(words.name(level), 150)}
            for floor, level in enumerate(levels)
        ],
        {"x": {"value": 0}, "y": quantity("floor", domain), "text": text_of("name")},
        align="left" if frame.is_narrow else "right",
        dx=3 if frame.is_narrow else -10,
        dy=-9,
        fontWeight="bold",
        color=frame.palette.ink,
    )
    late = 0.72 * scene.hours(scene.shown_to)
    told = [
        layer(
            "text",
            [peak for peak in peaks if (peak["hour"] > late) is is_late and peak["top"] > peak["floor"]],
            {"x": x, "y": quantity("top", domain), "text": text_of("text")},
            align="right" if is_late else "left",
            dx=-5 if is_late else 5,
            dy=-5,
            color=frame.palette.ink,
        )
        for is_late in (False, True)
    ]
    height = min(max(max(frame.row_px * 2.8, 76.0) * len(levels), 180.0), frame.most_px)
    return over_time(
        stacked([closed_hours(scene, frame), hills, floors, names, *told], frame, height), scene, frame
    )


def _floors(heard: Sequence[Chart]) -> list[Chart]:
    """A floor under each hill: none where nothing was heard, which is not the same as nobody there."""
    hours: dict[tuple[int, int], list[float]] = {}
    for point in heard:
        hours.setdefault((point["floor"], point["stretch"]), []).append(point["hour"])
    return [{"floor": floor, "hour": min(at), "to": max(at)} for (floor, _), at in hours.items()]


def tell_crowd(ask: Ask, scene: Scene) -> Section:
    """The section on where the crowd was and which way it went."""
    hours = scene.hours(scene.shown_to)
    counted = next((measure for measure in scene.measures.values() if measure.role == "crowd"), None)
    if counted is None:
        return Section(
            "crowd", QUESTION, "No measure of this campaign counts people's steps.",
            ["A measure takes that part when its role in register/measures.csv is crowd."],
        )  # fmt: skip
    title = scene.measure_title(counted.measure)
    answer = ask("flow.steps_by_level", {"every_min": "30" if hours <= 96 else "60"})
    if answer is None or not any(row["steps"] for row in answer.rows):
        return Section("crowd", QUESTION, f"{title}: none was counted.")
    totals: dict[str, float] = {}
    for row in answer.rows:
        totals[row["level"]] = totals.get(row["level"], 0.0) + float(row["steps"] or 0)
    busiest = max(totals, key=lambda level: totals[level])
    peak = max(answer.rows, key=lambda row: row["steps"] or 0)
    span = "half hour" if answer.given["every_min"] == "30" else "hour"
    told = f"{title}: the busiest {span} was {words.moment(peak['at'], scene.time_zone)}"
    if len(totals) > 1:
        share = words.share(totals[busiest] / sum(totals.values()))
        told += (
            f", on storey {words.name(peak['level'])}; storey {words.name(busiest)} had most in all, {share}"
        )
    told += "."
    figures = [
        Figure(
            "When",
            f"{title} on each storey through the campaign, stacked as the building is.",
            answer,
            draw_crowd,
            reading=f"The height of a hill is the count of one {span}, on one scale for all storeys; the "
            f"number is its top. No floor: nothing was heard. {scene.beside_time}",
        )
    ]
    shares = ask("flow.share_of_venue", {})
    busy = busy_rows(shares.rows) if shares is not None else []
    if shares is not None and busy:
        zones = fullest_zones(busy, scene)
        top = max(busy, key=lambda row: row["share_of_venue"])
        figures.append(
            Figure(
                "Which zones",
                f"The share of all that was counted in each zone; most at {scene.place(top['zone'])}, "
                f"{words.share(top['share_of_venue'])}, {words.moment(top['at'], scene.time_zone)}.",
                shares,
                draw_shares,
                reading=f"A row of bars for each of the {words.plural(len(zones), 'zone')} that ever held "
                "most, highest storey first, on one scale; orange where one holds far more than usual. "
                "Hours in which hardly anything was counted are left out.",
                rows=busy,
            )
        )
    surges = ask("flow.surges", {})
    more = []
    if surges is not None:
        more = ["No zone fills surely enough after another to say which way the crowd went."]
    if surges is not None and surges.rows:
        first = surges.rows[0]
        more = [
            f"{scene.place(first['to_zone'])} fills {words.plural(first['delay_min'], 'minute')} after "
            f"{scene.place(first['from_zone'])} more surely than any other pair of zones (r\u00a0=\u00a0"
            f"{words.number(first['r'])})."
        ]
        figures.append(
            Figure(
                "Which way",
                "Zones that fill one after another, and the minutes between.",
                surges,
                draw_surges,
                reading="Arrows for the clearest pairs. The crowd need not have walked that way: both may "
                "fill from a third place.",
            )
        )
    return Section("crowd", QUESTION, told, more, figures, choose="Show", caution=CAUTION)


CAUTION = (
    "These are counts of cheap, uncalibrated motes, and only where there are motes. They do not tell how "
    "many people there are or how full a room is: not for safety, compliance, occupancy limits or "
    "evacuation, where local codes and licensed practice decide."
)
