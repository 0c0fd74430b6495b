"""Which way the crowd goes: zones that fill one after another, as arrows through the building."""

from math import atan2, degrees, hypot

from motelake.page import words
from motelake.page.answers import Answer, Row
from motelake.page.drawing import Chart, Frame
from motelake.page.marks import lane, layer, quantity, row_names, stacked, text_of
from motelake.page.scene import Scene

MOST = 8


def draw_surges(answer: Answer, scene: Scene, frame: Frame) -> Chart | None:
    """The clearest pairs of zones as arrows, each with its delay in minutes; on a phone as a list of bars."""
    rows = [row for row in answer.rows if row["from_zone"] in scene.zones and row["to_zone"] in scene.zones][
        :MOST
    ]
    if not rows:
        return None
    return _listed(rows, scene, frame) if frame.is_narrow else _through_the_building(rows, scene, frame)


def _through_the_building(rows: list[Row], scene: Scene, frame: Frame) -> Chart:
    frame = frame.with_margin(16)
    levels = list(reversed(scene.levels))
    places: dict[str, tuple[float, float]] = {}
    storey_px = min(frame.row_px * 3.4, frame.most_px / max(1, len(levels)))
    letters: dict[str, int] = {}
    for number, level in enumerate(levels):
        zones = sorted(
            (zone for zone in scene.zones.values() if zone.level == level),
            key=lambda zone: (zone.x_m is None, zone.x_m or 0.0, zone.y_m or 0.0, zone.title),
        )
        # Storeys are set off against each other, so that an arrow passes beside what is between its ends.
        shift = 0.18 * (number % 2) - 0.09
        for place, zone in enumerate(zones):
            places[zone.zone] = (
                (place + 0.5 + shift) / len(zones) * frame.plot_px,
                (number + 0.45) * storey_px,
            )
            letters[zone.zone] = int(frame.plot_px / len(zones)) - 16
    height = storey_px * len(levels)
    across, down = quantity("x", [0, frame.plot_px]), quantity("y", [0, height], reverse=True)
    where = {"x": across, "y": down}
    used = {row[end] for row in rows for end in ("from_zone", "to_zone")}
    nodes = [{"x": x, "y": y, "is_used": zone in used} for zone, (x, y) in places.items()]
    names = [
        {"x": x, "y": y, "text": frame.fitted(scene.place(zone), letters[zone])}
        for zone, (x, y) in places.items()
    ]
    arrows = [_arrow(places[row["from_zone"]], places[row["to_zone"]], row, frame.letter_px) for row in rows]
    floors = [{"y": (number + 1) * storey_px - 1} for number in range(len(levels))]
    titles = [
        {"y": (number + 0.45) * storey_px, "text": frame.fitted(words.name(level), 150)}
        for number, level in enumerate(levels)
    ]
    layers = [
        layer("rule", floors, {"y": down}, color=frame.palette.line),
        layer(
            "text",
            titles,
            {"x": {"value": 0}, "y": down, "text": text_of("text")},
            align="right",
            dx=-10,
            fontWeight="bold",
            color=frame.palette.ink,
        ),
        layer(
            "rule",
            arrows,
            where | {"x2": {"field": "to_x"}, "y2": {"field": "to_y"}},
            color=frame.palette.crowd,
            strokeWidth=2.4,
        ),
        layer(
            "point",
            arrows,
            {
                "x": quantity("to_x", [0, frame.plot_px]),
                "y": quantity("to_y", [0, height], reverse=True),
                "angle": {"field": "turn", "type": "quantitative", "scale": None},
            },
            shape="triangle-up",
            filled=True,
            opacity=1,
            size=frame.letter_px * 10,
            color=frame.palette.crowd,
        ),
        layer(
            "point", nodes, where, filled=True, opacity=1, size=frame.letter_px * 8, color=frame.palette.ink
        ),
        layer(
            "text",
            names,
            where | {"text": text_of("text")},
            dy=frame.letter_px * 1.4,
            color=frame.palette.ink,
        ),
        layer(
            "text",
            arrows,
            {
                "x": quantity("middle_x", [0, frame.plot_px]),
                "y": quantity("middle_y", [0, height], reverse=True),
                "text": text_of("text"),
            },
            fontWeight="bold",
            dx=4,
            align="left",
            color=frame.palette.crowd,
        ),
    ]
    return stacked(layers, frame, height)


def _arrow(start: tuple[float, float], end: tuple[float, float], row: Row, letter_px: int) -> Chart:
    right, down = end[0] - start[0], end[1] - start[1]
    length = hypot(right, down) or 1.0
    stop = max(0.0, 1 - letter_px / length)
    # Nearer to its end than to its start: arrows that leave one zone do not write over each other.
    told = 0.62 * stop
    return {
        "x": start[0],
        "y": start[1],
        "to_x": start[0] + right * stop,
        "to_y": start[1] + down * stop,
        "middle_x": start[0] + right * told,
        "middle_y": start[1] + down * told,
        "turn": degrees(atan2(down, right)) + 90,
        "text": f"{row['delay_min']} min",
    }


def _listed(rows: list[Row], scene: Scene, frame: Frame) -> Chart:
    names = [f"{scene.place(row['from_zone'])} → {scene.place(row['to_zone'])}" for row in rows]
    most = max(row["delay_min"] for row in rows)
    bars = [
        {"lane": number, "start": 0, "delay": row["delay_min"], "text": f"{row['delay_min']} min"}
        for number, row in enumerate(rows)
    ]
    x, y = quantity("delay", [0, most * 1.25]), lane(len(rows))
    layers = [
        layer(
            "rect",
            bars,
            {"x": quantity("start", [0, most * 1.25]), "x2": {"field": "delay"}, "y": y},
            height=12,
            yOffset=9,
            color=frame.palette.crowd,
        ),
        layer(
            "text",
            bars,
            {"x": x, "y": y, "text": text_of("text")},
            align="left",
            dx=6,
            dy=10,
            color=frame.palette.ink,
        ),
        row_names(names, frame),
    ]
    return stacked(layers, frame, 44 * len(rows))
