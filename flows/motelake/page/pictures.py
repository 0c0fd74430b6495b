"""Which picture belongs to which question of the library."""

from collections.abc import Mapping

from motelake.page import words
from motelake.page.answers import Answer, Row
from motelake.page.around import draw_around
from motelake.page.bars import draw_clocks, draw_misplaced
from motelake.page.changes import draw_changes
from motelake.page.courses import draw_courses, draw_stability
from motelake.page.crowd import draw_crowd
from motelake.page.drawing import Chart, Frame
from motelake.page.effects import draw_effects
from motelake.page.figures import Draw
from motelake.page.intervals import Interval, draw_intervals
from motelake.page.losses import draw_losses
from motelake.page.moisture import draw_moisture
from motelake.page.moments import draw_shifts, draw_silence
from motelake.page.pairs import draw_lags
from motelake.page.plan import draw_plan
from motelake.page.scene import Scene
from motelake.page.shares import draw_shares
from motelake.page.strips import draw_strips
from motelake.page.surges import draw_surges


def draw_since_baseline(answer: Answer, scene: Scene, frame: Frame) -> Chart | None:
    """Strips where the answer is of one measure, else its largest changes."""
    is_of_one = len({row["measure"] for row in answer.rows}) == 1
    return (draw_strips if is_of_one else draw_changes)(answer, scene, frame)


def draw_differences(answer: Answer, scene: Scene, frame: Frame) -> Chart | None:
    """Differences of one measure between two windows, by zone; where there are several, of the first."""
    rows = [row for row in answer.rows if row["change"] is not None]
    if not rows:
        return None
    rows = [row for row in rows if row["measure"] == rows[0]["measure"]]
    intervals = [Interval(scene.place(row["zone"]), row["change"], row["low"], row["high"]) for row in rows]
    return draw_intervals(intervals, words.unit_of_difference(scene.unit(rows[0]["measure"])), frame)


def draw_screen(answer: Answer, scene: Scene, frame: Frame) -> Chart | None:
    """The surest pairs with their correlations."""

    def name(row: Row) -> str:
        first, second = (
            f"{scene.measure_title(row[f'measure_{side}'])}, {_scope(row[f'place_{side}'], scene)}"
            for side in "ab"
        )
        return f"{first} · {second}"

    rows = [row for row in answer.rows if row["r"] is not None]
    return draw_intervals(
        [Interval(name(row), row["r"], row["low"], row["high"]) for row in rows], "r", frame, (-1, 1)
    )


def draw_batteries(answer: Answer, scene: Scene, frame: Frame) -> Chart | None:
    """The voltage that each of the weakest batteries is likely to have at the end of the campaign."""
    rows = [row for row in answer.rows if row["end_v"] is not None]
    return draw_intervals(
        [Interval(f"mote {words.name(row['mote'])}", row["end_v"], row["low"], row["high"]) for row in rows],
        "V at the end of the campaign",
        frame,
    )


def draw_influence(answer: Answer, scene: Scene, frame: Frame) -> Chart | None:
    """What a correlation becomes when one mote is left out, the most influential first."""
    rows = [row for row in answer.rows if row["r_without"] is not None]
    named = [Interval(f"without {words.name(row['mote'])}", row["r_without"]) for row in rows]
    return draw_intervals(named, "r", frame, (-1, 1))


def draw_partial(answer: Answer, scene: Scene, frame: Frame) -> Chart | None:
    """The correlation as heard, and what of it is left once other measures are taken off."""
    rows = [row for row in answer.rows if row["r"] is not None and row["r_partial"] is not None]
    if not rows:
        return None
    row = rows[0]
    given = [words.inner(scene.measure_title(row[name])) for name in ("given_1", "given_2") if row[name]]
    return draw_intervals(
        [
            Interval("as heard", row["r"]),
            Interval(f"without {words.listed(given)}", row["r_partial"], row["low"], row["high"]),
        ],
        "r",
        frame,
        (-1, 1),
    )


def _scope(place: str, scene: Scene) -> str:
    return "venue" if place == "*" else scene.place(place)


PICTURES: Mapping[str, Draw] = {
    "air.moisture": draw_moisture,
    "change.between": draw_differences,
    "change.day_over_day": draw_since_baseline,
    "change.shifts": draw_shifts,
    "change.since_baseline": draw_since_baseline,
    "change.unexplained": draw_shifts,
    "correlation.by_mote": draw_influence,
    "correlation.lagged": draw_lags,
    "correlation.over_time": draw_stability,
    "correlation.partial": draw_partial,
    "correlation.screen": draw_screen,
    "correlation.with_context": draw_lags,
    "event_window.around": draw_around,
    "event_window.average_course": draw_courses,
    "event_window.ranking": draw_effects,
    "event_window.response": draw_effects,
    "fleet.battery": draw_batteries,
    "fleet.clocks": draw_clocks,
    "fleet.delivery": draw_losses,
    "fleet.misplaced": draw_misplaced,
    "fleet.silence": draw_silence,
    "fleet.state": draw_plan,
    "flow.share_of_venue": draw_shares,
    "flow.steps_by_level": draw_crowd,
    "flow.surges": draw_surges,
}
