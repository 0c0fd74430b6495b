"""What the events of a kind did to a measure: each event's effect with its interval, against matched windows."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from motelake.page import words
from motelake.page.answers import Answer, Ask, Row
from motelake.page.drawing import Frame
from motelake.page.figures import Figure, Section, drawn
from motelake.page.marks import data
from motelake.page.scene import Scene

if TYPE_CHECKING:

    from motelake.page.drawing import Picture

_MOST_ROWS = 24
_MOST_MEASURES = 4


def draw_effects(answer: Answer, scene: Scene, frame: Frame) -> "Picture | None":
    """A row for each event and place: a dot at the effect, a bar over its 95 % interval where there is one."""
    import altair as alt

    known = {event.event: event for event in scene.events}
    rows = [row for row in answer.rows if row["effect"] is not None and row["event"] in known]
    if not rows:
        return None
    rows = sorted(rows, key=lambda row: -abs(row["effect"]))[:_MOST_ROWS]
    rows.sort(key=lambda row: (known[row["event"]].starts_at, row["zone"] or ""))
    narrow = frame.is_narrow
    margin = 0 if narrow else int(frame.margin_px * 1.75)
    room = frame.plot_px if narrow else margin - 14
    points: list[dict[str, Any]] = []
    for lane, row in enumerate(rows):
        event = known[row["event"]]
        name = f"{words.moment(event.starts_at, scene.time_zone)}  {event.title}"
        points.append(
            {
                "lane": lane,
                "effect": row["effect"],
                "low": row["low"],
                "high": row["high"],
                "name": frame.fitted(name, room),
                "text": words.signed(row["effect"]),
                "way": "sure" if row["low"] is not None and (row["low"] > 0 or row["high"] < 0) else "open",
            }
        )
    ends = [
        value
        for point in points
        for value in (point["low"], point["high"], point["effect"])
        if value is not None
    ]
    scale = alt.Scale(domain=[min(0, *ends), max(0, *ends)], nice=True)
    unit = words.unit(scene.unit(rows[0]["measure"]))
    axis = alt.Axis(
        title=f"{unit}" if unit else None,
        titleAlign="right",
        titleAnchor="end",
        tickCount=5,
        gridOpacity=0.6,
        domain=False,
    )
    y = alt.Y("lane:Q", scale=alt.Scale(domain=[-0.6, len(points) - 0.4], reverse=True), axis=None)
    x = alt.X("effect:Q", scale=scale, axis=axis)
    fill = alt.Color(
        "way:N",
        scale=alt.Scale(domain=["sure", "open"], range=[frame.palette.rise_4, frame.palette.paper]),
        legend=None,
    )
    shift = 8 if narrow else 0
    layers = [
        alt.Chart(data([{"effect": 0.0}])).mark_rule(color=frame.palette.soft, strokeWidth=1.2).encode(x=x),
        alt.Chart(data([point for point in points if point["low"] is not None]))
        .mark_rule(color=frame.palette.rise_3, strokeWidth=4, opacity=0.7, yOffset=shift, y2Offset=shift)
        .encode(x=alt.X("low:Q", scale=scale, axis=axis), x2="high:Q", y=y),
        alt.Chart(data(points))
        .mark_point(filled=True, stroke=frame.palette.rise_4, strokeWidth=2, size=90, opacity=1, yOffset=shift)
        .encode(x=x, y=y, fill=fill),
        alt.Chart(data(points))
        .mark_text(align="left" if narrow else "right", dx=0 if narrow else -12, dy=-8 if narrow else 0, color=frame.palette.ink)
        .encode(x=alt.value(0), y=y, text="name:N"),
    ]  # fmt: skip
    lane_px = 40 if narrow else frame.row_px * 0.85
    return alt.layer(*layers).properties(width=frame.width - margin - 24, height=lane_px * len(points))


def tell_effects(ask: Ask, scene: Scene) -> Section:
    """The section on what events do to a place, with a choice of kind."""
    question = "What does an event of a kind do to its place?"
    if not scene.events:
        return Section("effects", question, "There is no programme, so no event can be looked at.")
    figures: list[Figure] = []
    heads: list[tuple[float, str]] = []
    for measure in _telling(scene):
        answer = ask("event_window.response", {"measure": measure})
        if answer is None:
            continue
        kinds = sorted({row["kind"] for row in answer.rows if row["kind"] and row["effect"] is not None})
        for kind in kinds:
            rows = [row for row in answer.rows if row["kind"] == kind]
            one = Answer(
                answer.view,
                rows,
                dict(answer.given) | {"kind": kind},
                answer.units,
                answer.question,
                answer.misleads,
            )
            sure = [row for row in rows if _is_sure(row)]
            told = _told(rows, sure, kind, scene)
            figures.append(
                Figure(
                    f"{words.capital(words.name(kind))}: {scene.measure_title(measure).lower()}",
                    told,
                    one,
                    drawn(draw_effects, one, scene),
                    reading="Each dot is one event: its change from before to during, less the same change in matched "
                    "hours without it. The bar is the 95 % interval; a hollow dot has none, or one that holds nought.",
                    columns=("event", "zone", "before", "during", "after", "matched", "effect", "low", "high", "p",
                             "matched_by", "matched_n", "note"),
                )
            )  # fmt: skip
            strength = max(
                (min(abs(row["low"]), abs(row["high"])) / (row["spread"] or 1) for row in sure), default=0.0
            )
            heads.append((strength, told))
    if not figures:
        return Section("effects", question, "No event has enough heard minutes around it.")
    order = sorted(range(len(figures)), key=lambda place: -heads[place][0])
    return Section(
        "effects",
        question,
        heads[order[0]][1],
        figures=[figures[place] for place in order],
        choose="Show the kind and measure",
    )


def _telling(scene: Scene) -> list[str]:
    roles = ("crowd", "sound", "temperature", "relative_humidity", "light")
    with_role = {
        measure.role: measure.measure for measure in scene.measures.values() if measure.role in roles
    }
    chosen = [with_role[role] for role in roles if role in with_role]
    others = [measure for measure in scene.measures if measure not in chosen]
    return [*chosen, *others][:_MOST_MEASURES]


def _is_sure(row: Row) -> bool:
    return row["low"] is not None and (row["low"] > 0 or row["high"] < 0)


def _told(rows: Sequence[Row], sure: Sequence[Row], kind: str, scene: Scene) -> str:
    measure = rows[0]["measure"]
    title = scene.measure_title(measure).lower()
    judged = [row for row in rows if row["low"] is not None]
    known = [row["effect"] for row in rows if row["effect"] is not None]
    middle = sorted(known)[len(known) // 2]
    size = words.with_unit(words.signed(middle), scene.unit(measure))
    of = (
        f"{len(sure)} of {words.plural(len(judged), 'event')} that can be judged"
        if judged
        else "none can be judged"
    )
    return f"{words.capital(words.name(kind))}: {title} {size} while it lasts, against matched hours; sure in {of}."
