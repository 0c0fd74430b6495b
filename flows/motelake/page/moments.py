"""Stretches of time, a row for each: what happened when, and how much."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from motelake.page import words
from motelake.page.answers import Answer, Row
from motelake.page.drawing import Chart, Frame
from motelake.page.marks import along_clock, closed_hours, lane, layer, over_time, row_names, stacked, text_of
from motelake.page.scene import Scene

MOST = 20
_WAYS = {"rise": "rise_4", "fall": "fall_4", "over": "soft", "still": "rise_4"}


@dataclass(frozen=True)
class Moment:
    """One stretch of time with the words at it; way is rise, fall, over or still."""

    name: str
    start: datetime
    end: datetime
    text: str
    way: str


def draw_moments(moments: Sequence[Moment], scene: Scene, frame: Frame) -> Chart | None:
    """The moments along the campaign's clocks, a row for each name, rows in the order they come in."""
    shown = [moment for moment in moments if moment.start < scene.shown_to and moment.end >= scene.shown_from]
    names = list(dict.fromkeys(moment.name for moment in shown))[:MOST]
    if not names:
        return None
    frame = frame.with_names(names)
    end = scene.hours(scene.shown_to)
    hour_px = frame.plot_px / end
    rows: list[Chart] = []
    for moment in shown:
        if moment.name in names:
            start = max(0.0, scene.hours(moment.start))
            stop = max(min(end, scene.hours(moment.end)), start + 3 / hour_px)
            rows.append(
                {
                    "lane": names.index(moment.name),
                    "from": start,
                    "to": stop,
                    "way": moment.way,
                    "text": moment.text,
                }
            )
    longest = {row["lane"]: row for row in sorted(rows, key=lambda row: row["to"] - row["from"])}
    told: dict[str, list[Chart]] = {"before": [], "after": [], "inside": []}
    leads: list[Chart] = []
    for number, row in longest.items():
        mark_px = (row["from"] * hour_px, row["to"] * hour_px)
        others = [other for other in rows if other["lane"] == number and other is not row]
        taken_px = [(other["from"] * hour_px, other["to"] * hour_px) for other in others]
        room_px = frame.width_of(row["text"]) * 1.06 + 10
        place = place_of_words(mark_px, room_px, taken_px, frame.plot_px)
        if place:
            told[place].append(row)
        # A thin line leads from the name to the words or the mark, whichever is first, never through words.
        lead_px = mark_px[0] - room_px if place == "before" else mark_px[0]
        leads.append({"lane": number, "start": 0, "to": lead_px / hour_px})
    lane_px = 46 if frame.is_narrow else frame.lane_px(len(names))
    down = 10 if frame.is_narrow else 0
    y = lane(len(names))
    colours = frame.palette.named()
    layers = [
        closed_hours(scene, frame),
        layer(
            "rule",
            [lead for lead in leads if lead["to"] > 0],
            {"x": along_clock("start", scene), "x2": {"field": "to"}, "y": y},
            color=frame.palette.line,
            yOffset=down,
        ),
        layer(
            "rect",
            rows,
            {
                "x": along_clock("from", scene),
                "x2": {"field": "to"},
                "y": y,
                "color": {
                    "field": "way",
                    "type": "nominal",
                    "scale": {"domain": list(_WAYS), "range": [colours[name] for name in _WAYS.values()]},
                    "legend": None,
                },
            },
            height=min(frame.letter_px + 1, lane_px * 0.7),
            cornerRadius=2,
            yOffset=down,
        ),
        row_names(names, frame),
    ]
    for side, at in (("before", "from"), ("after", "to"), ("inside", "from")):
        layers.append(
            layer(
                "text",
                told[side],
                {"x": along_clock(at, scene), "y": y, "text": text_of("text")},
                align="right" if side == "before" else "left",
                dx=-6 if side == "before" else 6,
                dy=down + 1,
                fontWeight="bold",
                color=frame.palette.paper if side == "inside" else frame.palette.ink,
            )
        )
    return over_time(stacked(layers, frame, lane_px * len(names)), scene, frame)


def place_of_words(
    mark_px: tuple[float, float], room_px: float, taken_px: Sequence[tuple[float, float]], plot_px: float
) -> str:
    """Where the words of a mark stand: beside it where that is free, else in it; empty where nowhere is."""
    start, end = mark_px

    def is_free(left: float, right: float) -> bool:
        return left >= 0 and right <= plot_px and all(to < left or at > right for at, to in taken_px)

    if is_free(end + 1, end + room_px):
        return "after"
    if is_free(start - room_px, start - 1):
        return "before"
    return "inside" if end - start >= room_px else ""


def draw_shifts(answer: Answer, scene: Scene, frame: Frame) -> Chart | None:
    """The clearest shifts, with their time and size."""
    return draw_moments([shift_moment(row, scene) for row in answer.rows[:MOST]], scene, frame)


def shift_moment(row: Row, scene: Scene) -> Moment:
    """A shift as a moment of five minutes."""
    return Moment(
        f"{scene.place(row['zone'])}, {words.inner(scene.measure_title(row['measure']))}",
        row["at"],
        row["at"] + timedelta(minutes=5),
        words.difference(row["size"], scene.unit(row["measure"])),
        "rise" if row["size"] > 0 else "fall",
    )


def draw_silence(answer: Answer, scene: Scene, frame: Frame) -> Chart | None:
    """Gaps by what is likely to have caused them: a whole network, a whole zone, or one mote."""
    groups: dict[tuple[str, datetime], list[Row]] = {}
    for row in silences(answer.rows):
        # Motes behind one gateway fall silent within a period of each other: the hour tells them together.
        hour = row["from_at"].replace(minute=0, second=0, microsecond=0)
        groups.setdefault((silent_name(row, scene), hour), []).append(row)
    moments = [
        Moment(
            name,
            min(row["from_at"] for row in rows),
            max(row["to_at"] for row in rows),
            _silent_text(rows),
            "still" if _is_still(rows, scene) else "over",
        )
        for (name, _), rows in sorted(groups.items(), key=lambda group: -_lost(group[1]))
    ]
    return draw_moments(moments, scene, frame)


def silences(rows: Sequence[Row]) -> list[Row]:
    """The gaps that are more than losses in a row."""
    return [row for row in rows if row["cause"] != "losses"]


def _lost(rows: Sequence[Row]) -> float:
    return float(sum((row["to_at"] - row["from_at"]).total_seconds() for row in rows))


def _silent_text(rows: Sequence[Row]) -> str:
    length = words.length(max(row["to_at"] for row in rows) - min(row["from_at"] for row in rows))
    motes = len({row["mote"] for row in rows})
    return f"{length}, {words.plural(motes, 'mote')}" if motes > 1 else length


def _is_still(rows: Sequence[Row], scene: Scene) -> bool:
    return scene.data_to is not None and max(row["to_at"] for row in rows) >= scene.data_to


def silent_name(row: Row, scene: Scene) -> str:
    """What fell silent, by the likely cause."""
    match row["cause"]:
        case "collector":
            return "everything (collector)"
        case "gateway":
            return f"network {words.name(row['network'])} (gateway)"
        case "zone power":
            return f"{scene.place(row['zone'])} (power)"
    return f"mote {words.name(row['mote'])}"
