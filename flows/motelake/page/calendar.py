"""One place over weeks: a row for each day, so that its usual hours and its unusual days are seen at once."""

from collections.abc import Sequence
from datetime import timedelta
from typing import Any

from motelake.page.answers import Answer, Row
from motelake.page.drawing import Chart, Frame
from motelake.page.marks import lane, layer, quantity, stacked, text_of
from motelake.page.scene import Scene
from motelake.page.shades import STEPS, class_width, colouring, key, labels_of, step_of


def draw_days(rows: Sequence[Row], answer: Answer, scene: Scene, frame: Frame) -> Chart:
    """One place over weeks: a row for each day on the campaign's clocks, its hours from left to right."""
    width = class_width(rows)
    every_h = int(answer.given.get("every_min", "60")) / 60
    zone = scene.time_zone
    first = scene.shown_from.astimezone(zone).date()
    days = (scene.shown_to.astimezone(zone).date() - first).days + 1
    labels = labels_of(width, scene.unit(rows[0]["measure"]))
    cells: list[dict[str, Any]] = []
    for row in rows:
        local = row["at"].astimezone(zone)
        start = local.hour + local.minute / 60
        cells.append(
            {
                "lane": (local.date() - first).days,
                "step": step_of(row, width),
                "from": start,
                "to": min(24.0, start + every_h),
            }
        )
    present = sorted({cell["step"] for cell in cells} | {0})
    cells.sort(key=lambda cell: (cell["step"], cell["lane"], cell["from"]))
    for cell in cells:
        cell["size"] = labels[cell.pop("step") + STEPS]
    frame = frame.with_margin(12)
    named = [first + timedelta(days=number) for number in range(days)]
    names = [f"{day:%a} {day.day} {day:%b}" if day.weekday() == 0 else "" for day in named]
    lane_px = min(12.0 if days < 60 else 7.0, frame.most_px / days)
    hours = {"values": list(range(0, 25, 3)), "title": None, "grid": False, "domain": False}
    strips = layer(
        "rect",
        cells,
        {
            "x": quantity("from", [0, 24], axis=hours),
            "x2": {"field": "to"},
            "y": lane(days),
            "color": colouring(present, labels, frame),
        },
        height=lane_px,
    )
    weeks = [{"lane": number, "name": name} for number, name in enumerate(names) if name]
    headings = layer(
        "text",
        weeks,
        {"x": {"value": 0}, "y": lane(days), "text": text_of("name")},
        align="left" if frame.is_narrow else "right",
        dx=2 if frame.is_narrow else -10,
        color=frame.palette.ink,
    )
    return stacked([strips, headings, *key(present, labels, frame)], frame, lane_px * days)
