"""Which two measures go together, and which of them is first: correlation against lag."""

from dataclasses import replace

from motelake.page import words
from motelake.page.answers import Answer, Ask, Row
from motelake.page.drawing import Chart, Frame
from motelake.page.figures import Figure, Section
from motelake.page.marks import layer, quantity, stacked, text_of
from motelake.page.scene import Scene

QUESTION = "Which two measures go together, and which is first?"
_MOST_MEASURES = 4
SURE = 0.05


def draw_lags(answer: Answer, scene: Scene, frame: Frame) -> Chart | None:
    """The correlation at each lag with its 95 % interval; the best lag is marked and told."""
    rows = [row for row in answer.rows if row["r"] is not None]
    if not rows:
        return None
    frame = replace(frame, margin_px=4 if frame.is_narrow else frame.letter_px * 3)
    first, second = _series(rows[0], scene)
    points = [{name: row[name] for name in ("lag_min", "r", "low", "high")} for row in rows]
    most = max(abs(row["lag_min"]) for row in rows) or 1
    inside = frame.is_narrow
    lag_axis = {
        "title": None,
        "grid": False,
        "tickCount": 6,
        "labelExpr": "datum.value == 0 ? '0 min' : datum.label",
    }
    r_axis = {
        "title": None,
        "values": [-1, -0.5, 0, 0.5, 1],
        "domain": False,
        "ticks": False,
        "gridOpacity": 0.7,
        "labelAlign": "left" if inside else "right",
        "labelPadding": -4 if inside else 6,
        "labelOffset": -8 if inside else 0,
    }
    x = quantity("lag_min", [-most, most], axis=lag_axis)

    # Where nothing is below nought the whole height is for what is above it, and the other way round.
    ends = [end for point in points for end in (point["r"], point["low"], point["high"]) if end is not None]
    reach = [0 if min(ends) >= 0 else -1, 0 if max(ends) <= 0 else 1]

    def y(name: str) -> Chart:
        return quantity(name, reach, axis=r_axis)

    layers = [
        layer(
            "area",
            [point for point in points if point["low"] is not None],
            {"x": x, "y": y("low"), "y2": {"field": "high"}},
            color=frame.palette.fall_3,
            opacity=0.28,
        ),
        layer("rule", [{"r": 0.0}], {"y": y("r")}, color=frame.palette.soft, strokeWidth=1.2),
        layer("rule", [{"lag_min": 0}], {"x": x}, color=frame.palette.soft, strokeDash=[4, 3]),
        layer("line", points, {"x": x, "y": y("r")}, color=frame.palette.fall_4, strokeWidth=2.6),
    ]
    height = min(frame.row_px * 9, frame.most_px)
    best = next((row for row in rows if row["is_best"]), None)
    if best:
        lead = first if best["lag_min"] > 0 else second
        layers += _at_best_lag(best, lead, {"x": x, "y": y("r"), "edge": y("edge")}, frame)
    room = frame.plot_px / 2 - 10
    for side, at_lag, text in (("left", -most, f"← {second} first"), ("right", most, f"{first} first →")):
        layers.append(
            layer(
                "text",
                [{"lag_min": at_lag, "text": frame.fitted(text, room)}],
                {"x": x, "y": {"value": height}, "text": text_of("text")},
                align=side,
                dy=frame.letter_px * 2.9,
                color=frame.palette.soft,
            )
        )
    return stacked(layers, frame, height)


def _at_best_lag(best: Row, lead: str, scales: Chart, frame: Frame) -> list[Chart]:
    """A dot on the curve, and a line from it to the words at the far edge, where they keep clear of it."""
    lag = best["lag_min"]
    (_, most), (lowest, highest) = scales["x"]["scale"]["domain"], scales["y"]["scale"]["domain"]
    edge = lowest if best["r"] > 0 else highest
    name = frame.fitted(words.inner(lead), frame.plot_px / 3)
    ahead = "in the same minute" if lag == 0 else f"{name} {lag_words(lag)} ahead"
    text = f"r = {words.number(best['r'])}" if frame.is_narrow else f"r = {words.number(best['r'])}, {ahead}"
    mark = [{"lag_min": lag, "r": best["r"], "edge": edge, "text": text}]
    at_px = (lag + most) / (2 * most) * frame.plot_px
    # Away from the line at lag nought, unless there is no room.
    room_px = frame.plot_px - at_px if lag >= 0 else at_px
    is_right = (lag >= 0) is (frame.width_of(text) + 6 < room_px)
    on_curve = {"x": scales["x"], "y": scales["y"]}
    return [
        layer(
            "rule",
            mark,
            on_curve | {"y2": {"field": "edge"}},
            color=frame.palette.rise_4,
            strokeDash=[2, 3],
        ),
        layer(
            "point",
            mark,
            on_curve,
            color=frame.palette.rise_4,
            filled=True,
            size=frame.letter_px * 9,
            opacity=1,
        ),
        layer(
            "text",
            mark,
            {"x": scales["x"], "y": scales["edge"], "text": text_of("text")},
            align="left" if is_right else "right",
            dx=6 if is_right else -6,
            dy=frame.letter_px * (-1.1 if best["r"] > 0 else 1.1),
            fontWeight="bold",
            color=frame.palette.ink,
        ),
    ]


def tell_pairs(ask: Ask, scene: Scene) -> Section:
    """The section on which measures go together, with a choice of pair."""
    if len(scene.measures) < 2:
        return Section("pairs", QUESTION, "There is only one measure, so nothing for it to go with.")
    found: list[tuple[float, Figure, str]] = []
    for first, second in _pairs(scene):
        answer = ask("correlation.lagged", {"measure_a": first, "measure_b": second})
        rows = answer.rows if answer else ()
        best = next((row for row in rows if row["is_best"] and row["r"] is not None), None)
        if answer is None or best is None:
            continue
        figure = Figure(
            words.capital(_couple(best, scene)),
            f"{_told(best, scene)}: {_certainty(best)}.",
            answer,
            draw_lags,
            reading="The line is the correlation at each lag over the whole venue, the band its 95\u00a0% "
            "interval for that lag alone; the dot is the best lag.",
            columns=("lag_min", "r", "low", "high", "n", "n_effective", "p", "p_scan"),
        )
        told = f"{_told(best, scene)} ({_size(best)})."
        found.append((1.0 if best["p_scan"] is None else best["p_scan"], figure, told))
    if not found:
        return Section("pairs", QUESTION, "No two measures were heard long enough together.")
    found.sort(key=lambda one: one[0])
    # Bonferroni: of many pairs the best looks good by chance.
    count = sum(p * len(found) < SURE for p, _, _ in found)
    more = (
        f"{count} of {words.plural(len(found), 'pair')} {'is' if count == 1 else 'are'} sure (p under 0.05, "
        "all lags and pairs that were tried taken into account). A day has one rhythm, and measures that "
        "only share it go together too: a lag tells what came first, never what caused what."
    )
    told = found[0][2] if count else "No pair goes together surely enough to say so."
    return Section(
        "pairs", QUESTION, told, [more], [figure for _, figure, _ in found], choose="Show the pair"
    )


def _pairs(scene: Scene) -> list[tuple[str, str]]:
    ordered = sorted(scene.measures, key=scene.rank)[:_MOST_MEASURES]
    return [(first, second) for place, first in enumerate(ordered) for second in ordered[place + 1 :]]


def _series(row: Row, scene: Scene) -> tuple[str, str]:
    # correlation.with_context compares a stream from outside with a measure, in the same columns otherwise.
    if "stream" in row:
        return words.name(row["stream"]), scene.measure_title(row["measure"])
    return scene.measure_title(row["measure_a"]), scene.measure_title(row["measure_b"])


def _couple(best: Row, scene: Scene) -> str:
    first, second = (scene.measure_title(best[name]) for name in ("measure_a", "measure_b"))
    return f"{words.inner(first)} and {words.inner(second)}"


def _told(best: Row, scene: Scene) -> str:
    way = "rise and fall together" if best["r"] > 0 else "move against each other"
    lag = best["lag_min"]
    first = words.inner(scene.measure_title(best["measure_a" if lag > 0 else "measure_b"]))
    lead = "in the same minute" if lag == 0 else f"{first} {lag_words(lag)} ahead"
    return f"{words.capital(_couple(best, scene))} {way}, {lead}"


def _size(best: Row) -> str:
    ends = f"95\u00a0% interval {words.number(best['low'])} to {words.number(best['high'])}"
    return f"r\u00a0=\u00a0{words.number(best['r'])}, {ends}"


def _certainty(best: Row) -> str:
    return (
        f"{_size(best)}, worth {words.independent_minutes(best['n_effective'])}, "
        f"{words.p_value(best['p_scan'])} for the best of all lags"
    )


def lag_words(lag: int) -> str:
    """A lag in words, without its direction."""
    return "the same minute" if lag == 0 else words.plural(abs(lag), "minute")
