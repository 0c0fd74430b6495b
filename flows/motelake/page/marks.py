"""Marks that several pictures share: the clock below, closed hours behind, the programme under it."""

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

from motelake.page.drawing import Frame
from motelake.page.scene import Scene

if TYPE_CHECKING:
    import altair as alt


_STEPS_H = (1, 2, 3, 6, 12, 24, 48, 96, 168, 336)


def data(rows: list[dict[str, Any]]) -> "alt.InlineData":
    """Rows as a chart takes them."""
    import altair as alt

    return alt.InlineData(values=rows)


def clock_axis(scene: Scene, frame: Frame) -> "alt.Axis":
    """The campaign's clocks along a scale of hours since the pictures' time begins.

    Ticks stand at whole local hours, so that a clock that is put forward or back is shown as it was read.
    """
    import altair as alt

    ticks, labels = _ticks(scene, frame)
    return alt.Axis(
        values=ticks,
        labelExpr=_lookup(ticks, labels),
        title=None,
        grid=False,
        labelFlush=False,
        labelAlign="left",
        labelOffset=0,
        labelPadding=4,
        tickSize=8,
        labelOverlap=False,
    )


def along_clock(field: str, scene: Scene, axis: "alt.Axis | None" = None) -> "alt.X":
    """A column of hours since the pictures' time begins, laid from left to right."""
    import altair as alt

    scale = alt.Scale(domain=[0, scene.hours(scene.shown_to)], nice=False, zero=False, clamp=True)
    return alt.X(f"{field}:Q", scale=scale, axis=axis)


def _ticks(scene: Scene, frame: Frame) -> tuple[list[float], list[list[str]]]:
    total = scene.hours(scene.shown_to)
    room = max(2, int(frame.plot_px / (frame.letter_px * (4.2 if total <= 24 * 7 else 5.5))))
    step = next((step for step in _STEPS_H if total / step <= room), _STEPS_H[-1])
    local = scene.shown_from.astimezone(scene.time_zone)
    cursor = datetime(local.year, local.month, local.day, tzinfo=scene.time_zone)
    ticks: list[float] = []
    labels: list[list[str]] = []
    date = cursor.date()
    while True:
        for hour in range(0, 24, min(step, 24)):
            wall = datetime(date.year, date.month, date.day, hour, tzinfo=scene.time_zone).astimezone(UTC)
            at = scene.hours(wall)
            if at >= total:
                return ticks, labels
            if at < 0:
                continue
            starts_day = hour == 0 or not ticks
            shown = f"{date:%a} {date.day} {date:%b}" if starts_day and room > 3 else f"{date.day} {date:%b}"
            ticks.append(round(at, 4))
            labels.append([f"{hour:02d}", shown if starts_day else ""] if step < 24 else [shown])
        date += timedelta(days=max(1, step // 24))


def _lookup(ticks: list[float], labels: list[list[str]]) -> str:
    import json

    # Labels hold digits, weekdays and months only, so nothing of the campaign gets into the expression.
    return f"{json.dumps(labels)}[indexof({json.dumps(ticks)}, round(datum.value * 10000) / 10000)]"


def closed_hours(scene: Scene, frame: Frame) -> "alt.Chart":
    """The hours outside opening as a shade behind a picture."""
    import altair as alt

    rows = [{"from": start, "to": end} for start, end in scene.closed_hours()]
    shade: alt.Chart = alt.Chart(data(rows)).mark_rect(color=frame.palette.night)
    return shade.encode(x=along_clock("from", scene), x2="to:Q")


def programme(
    scene: Scene, frame: Frame, axis: "alt.Axis | None" = None
) -> "alt.LayerChart | alt.FacetChart | None":
    """The programme as one line of bars per kind of event; None where there is none."""
    import altair as alt

    events = [event for event in scene.events if event.kind and event.ends_at > scene.shown_from]
    kinds = list(dict.fromkeys(event.kind for event in events))[:8]
    rows = [
        {
            "from": max(0.0, scene.hours(event.starts_at)),
            "to": scene.hours(
                min(max(event.ends_at, event.starts_at + timedelta(minutes=10)), scene.shown_to)
            ),
            "lane": kinds.index(event.kind),
        }
        for event in events
        if event.kind in kinds and event.starts_at < scene.shown_to
    ]
    if not rows:
        return None
    lane_px = frame.letter_px + 5
    x = along_clock("from", scene, axis)
    y = alt.Y("lane:Q", scale=alt.Scale(domain=[-0.5, len(kinds) - 0.5], reverse=True), axis=None)
    bars = (
        alt.Chart(data(rows))
        .mark_rect(height=lane_px - 8, cornerRadius=2, color=frame.palette.soft, opacity=0.8)
        .encode(x=x, x2="to:Q", y=y)
    )
    names = [
        {"lane": lane, "name": frame.fitted(kind, frame.margin_px - 12)} for lane, kind in enumerate(kinds)
    ]
    labels = (
        alt.Chart(data(names))
        .mark_text(align="right", dx=-8, color=frame.palette.soft, fontSize=frame.letter_px - 1)
        .encode(x=alt.value(0), y=y, text="name:N")
    )
    if frame.is_narrow:
        labels = labels.mark_text(align="left", dx=2, color=frame.palette.soft, fontSize=frame.letter_px - 2)
    return alt.layer(bars, labels).properties(width=frame.plot_px, height=lane_px * len(kinds))
