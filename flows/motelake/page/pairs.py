"""Which two measures go together, and which of them is first: correlation against lag."""

from typing import TYPE_CHECKING

from motelake.page import words
from motelake.page.answers import Answer, Ask, Row
from motelake.page.drawing import Frame
from motelake.page.figures import Figure, Section, drawn
from motelake.page.marks import data
from motelake.page.scene import Scene

if TYPE_CHECKING:

    from motelake.page.drawing import Picture


_MOST_MEASURES = 6


def draw_lags(answer: Answer, scene: Scene, frame: Frame) -> "Picture | None":
    """The correlation at each lag with its 95 % interval; the best lag is marked and told."""
    import altair as alt

    rows = [row for row in answer.rows if row["r"] is not None]
    if not rows:
        return None
    first, second = scene.measure_title(rows[0]["measure_a"]), scene.measure_title(rows[0]["measure_b"])
    points = [{key: row[key] for key in ("lag_min", "r", "low", "high")} for row in rows]
    most = max(abs(row["lag_min"]) for row in rows) or 1
    x = alt.X(
        "lag_min:Q",
        scale=alt.Scale(domain=[-most, most], nice=False),
        axis=alt.Axis(
            title=None, grid=False, tickCount=6, labelExpr="datum.value == 0 ? '0 min' : datum.label"
        ),
    )
    domain = [
        min(-0.1, *(row["low"] or row["r"] for row in rows)),
        max(0.1, *(row["high"] or row["r"] for row in rows)),
    ]
    scale = alt.Scale(domain=[max(-1.0, domain[0]), min(1.0, domain[1])], nice=True)
    axis = alt.Axis(title=None, tickCount=5, domain=False, ticks=False, gridOpacity=0.6, format=".1f")
    y = alt.Y("r:Q", scale=scale, axis=axis)
    band = (
        alt.Chart(data([point for point in points if point["low"] is not None]))
        .mark_area(color=frame.palette.fall_3, opacity=0.28)
        .encode(x=x, y=alt.Y("low:Q", scale=scale, axis=axis), y2="high:Q")
    )
    line = alt.Chart(data(points)).mark_line(color=frame.palette.fall_4, strokeWidth=2.4).encode(x=x, y=y)
    nought = alt.Chart(data([{"r": 0.0}])).mark_rule(color=frame.palette.soft, strokeWidth=1.2).encode(y=y)
    best = next((row for row in rows if row["is_best"]), None)
    layers: list[alt.Chart] = [band, nought, line]
    if best:
        lag = best["lag_min"]
        mark = [
            {"lag_min": lag, "r": best["r"], "text": f"r = {words.number(best['r'])} at {lag_words(lag)}"}
        ]
        side = "right" if lag > 0.2 * most else "left"
        layers += [
            alt.Chart(data(mark))
            .mark_point(color=frame.palette.rise_4, filled=True, size=110, opacity=1)
            .encode(x=x, y=y),
            alt.Chart(data(mark))
            .mark_text(align=side, dx=10 if side == "left" else -10, dy=-12, color=frame.palette.ink, fontWeight="bold")
            .encode(x=x, y=y, text="text:N"),
        ]  # fmt: skip
    room = frame.plot_px / 2 - 10
    ends = [
        {"lag_min": -most, "text": frame.fitted(f"← {second} first", room), "side": "left"},
        {"lag_min": most, "text": frame.fitted(f"{first} first →", room), "side": "right"},
    ]
    layers += [
        alt.Chart(data([end]))
        .mark_text(align=end["side"], color=frame.palette.soft, dy=34)
        .encode(x=x, y=alt.value(frame.row_px * 8), text="text:N")
        for end in ends
    ]  # fmt: skip
    left = 36
    return alt.layer(*layers).properties(
        width=min(frame.width - left - 20, 760 * frame.letter_px // 13), height=frame.row_px * 8
    )


def lag_words(lag: int) -> str:
    """A lag in words, without its direction."""
    return "the same minute" if lag == 0 else words.plural(abs(lag), "minute")


def tell_pairs(ask: Ask, scene: Scene) -> Section:
    """The section on which measures go together, with a choice of pair."""
    question = "Which two measures go together, and which is first?"
    figures: list[tuple[float, Figure, str]] = []
    for first, second in _pairs(scene):
        answer = ask("correlation.lagged", {"measure_a": first, "measure_b": second, "max_lag_min": "60"})
        best = (
            next((row for row in answer.rows if row["is_best"] and row["r"] is not None), None)
            if answer
            else None
        )
        if answer is None or best is None:
            continue
        told = _told(best, scene)
        figure = Figure(
            f"{scene.measure_title(first)} and {scene.measure_title(second).lower()}",
            told,
            answer,
            drawn(draw_lags, answer, scene),
            reading="The line is the correlation at each lag over the whole venue, the band its 95 % interval for that "
            "lag alone; the dot is the best lag.",
            columns=("lag_min", "r", "low", "high", "n", "n_effective", "p", "p_scan"),
        )
        figures.append((best["p_scan"] if best["p_scan"] is not None else 1.0, figure, told))
    if not figures:
        return Section("pairs", question, "No two measures were heard long enough together.")
    figures.sort(key=lambda one: one[0])
    count = sum(p < 0.05 for p, _, _ in figures)
    more = [
        f"{count} of {words.plural(len(figures), 'pair')} {'passes' if count == 1 else 'pass'} 0.05 after all lags tried "
        "are accounted for. A day has one rhythm: measures that only share it go together too, so a lag tells what came "
        "first, never what caused what."
    ]
    told = figures[0][2] if figures[0][0] < 0.05 else "No pair goes together surely enough to say so."
    return Section(
        "pairs", question, told, more, [figure for _, figure, _ in figures], choose="Show the pair"
    )


def _pairs(scene: Scene) -> list[tuple[str, str]]:
    named = sorted(scene.measures.values(), key=lambda measure: (_rank(measure.role), measure.measure))[
        :_MOST_MEASURES
    ]
    return [(a.measure, b.measure) for place, a in enumerate(named) for b in named[place + 1 :]]


def _rank(role: str | None) -> int:
    roles = ("crowd", "sound", "temperature", "relative_humidity", "light")
    return roles.index(role) if role in roles else len(roles)


def _told(best: Row, scene: Scene) -> str:
    first, second = scene.measure_title(best["measure_a"]), scene.measure_title(best["measure_b"])
    lag = best["lag_min"]
    way = "rise and fall together" if best["r"] > 0 else "move against each other"
    lead = "in the same minute" if lag == 0 else f"{first if lag > 0 else second} {lag_words(lag)} ahead"
    sure = "unknown" if best["p_scan"] is None else "sure" if best["p_scan"] < 0.05 else "not sure"
    p = words.p_value(best["p_scan"])
    return (
        f"{first} and {second.lower()} {way}, {lead}: r = {words.number(best['r'])} "
        f"({words.number(best['low'])} to {words.number(best['high'])}), worth {words.number(best['n_effective'])} "
        f"independent minutes; {p} for the best of all lags: {sure}."
    )
