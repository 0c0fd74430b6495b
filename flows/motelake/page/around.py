"""What is known near a moment, in the order of time: shifts of one measure in several zones share a row."""

from motelake.page import words
from motelake.page.answers import Answer, Row
from motelake.page.drawing import Chart, Frame
from motelake.page.marks import lane, layer, quantity, row_names, stacked, text_of
from motelake.page.scene import Scene

MOST = 24


def draw_around(answer: Answer, scene: Scene, frame: Frame) -> Chart | None:
    """A mark for each thing at its minutes before or after the moment, which is nought."""
    things: dict[tuple[str, float, str], list[Row]] = {}
    for row in answer.rows:
        subject = _subject(row, scene)
        # Shifts of one measure at one time in several zones are one thing that happened to all of them.
        zone = "" if row["what"] == "shift" else row["zone"] or ""
        things.setdefault((f"{words.capital(row['what'])}: {subject}", row["offset_min"], zone), []).append(
            row
        )
    if not things:
        return None
    nearest = sorted(things.items(), key=lambda thing: abs(thing[0][1]))[:MOST]
    nearest.sort(key=lambda thing: thing[0][1])
    names = [f"{name}, {_where(rows, scene)}" for (name, _, _), rows in nearest]
    frame = frame.with_names(names)
    reach = float(answer.given.get("near_min", "60"))
    down = 9 if frame.is_narrow else 0
    marks = [
        {"lane": number, "minute": offset, "moment": 0.0, "text": _minutes(offset), "is_late": offset > 0}
        for number, ((_, offset, _), _) in enumerate(nearest)
    ]
    axis = {
        "title": None,
        "tickCount": 6,
        "grid": False,
        "labelExpr": "datum.value == 0 ? 'moment' : datum.label",
    }
    y = lane(len(marks))

    def x(name: str) -> Chart:
        return quantity(name, [-reach, reach], axis=axis)

    layers = [
        layer("rule", [{"moment": 0.0}], {"x": x("moment")}, color=frame.palette.soft, strokeDash=[4, 3]),
        layer(
            "rule",
            marks,
            {"x": x("moment"), "x2": {"field": "minute"}, "y": y},
            color=frame.palette.line,
            strokeWidth=2,
            yOffset=down,
        ),
        layer(
            "point",
            marks,
            {"x": x("minute"), "y": y},
            filled=True,
            opacity=1,
            size=frame.letter_px * 6,
            color=frame.palette.crowd,
            yOffset=down,
        ),
        *(
            layer(
                "text",
                [mark for mark in marks if mark["is_late"] is is_late],
                {"x": x("minute"), "y": y, "text": text_of("text")},
                align="left" if is_late else "right",
                dx=9 if is_late else -9,
                dy=down + 1,
                color=frame.palette.soft,
            )
            for is_late in (False, True)
        ),
        row_names(names, frame),
    ]
    lane_px = 42.0 if frame.is_narrow else frame.lane_px(len(marks)) * 0.85
    return stacked(layers, frame, lane_px * len(marks))


def _subject(row: Row, scene: Scene) -> str:
    detail = words.name(row["detail"] or "", 60)
    if row["what"] == "shift":
        return words.inner(scene.measure_title(detail.partition(",")[0]))
    # An event's key in the programme and a note's stream tell people nothing.
    is_keyed = row["what"].startswith("event") or row["what"] == "note"
    return detail.partition(": ")[2] or detail if is_keyed else detail


def _where(rows: list[Row], scene: Scene) -> str:
    zones = {row["zone"] for row in rows}
    return scene.place(rows[0]["zone"]) if len(zones) == 1 else words.plural(len(zones), "zone")


def _minutes(offset: float) -> str:
    return f"{words.number(round(offset), 4)} min"
