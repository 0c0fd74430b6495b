"""What to distrust: held deliveries, odd motes, readings left out, changes that nothing known explains."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from motelake.page import words
from motelake.page.answers import Ask, Row
from motelake.page.bars import draw_clocks, draw_misplaced, evidence
from motelake.page.figures import Figure, Point, Section
from motelake.page.moments import draw_shifts
from motelake.page.scene import Scene

QUESTION = "What should be distrusted?"
# A tenth of a mote's readings left out is more than the odd spike.
_LEFT_OUT_SHARE = 0.1
_REJECTED_SHARE = 0.01
_FEW_DAYS_H = 24 * 7
_MOST_HEADS = 3
_MOST_SHIFTS = 12


def tell_doubts(ask: Ask, scene: Scene) -> Section:
    """The section on what speaks against the figures before it."""
    points = [
        *_of_work(scene),
        *_of_motes(ask, scene),
        *_of_unexplained(ask, scene),
        *_of_length(scene),
    ]
    figures = []
    unexplained = ask("change.unexplained", {})
    if unexplained is not None and unexplained.rows:
        figures.append(
            Figure(
                "Unexplained",
                "The clearest shifts with no event, note or moved mote near them.",
                replace(unexplained, rows=_chosen(unexplained.rows, scene)),
                draw_shifts,
                reading="Each mark is a jump from one level to another; the number is its size where a row "
                "has one. Of each measure the clearest in some zones.",
                rows=unexplained.rows,
                columns=("zone", "measure", "at", "size", "before", "after", "confidence"),
            )
        )
    misplaced = ask("fleet.misplaced", {})
    if misplaced is not None and misplaced.rows:
        figures.append(
            Figure(
                "Out of place",
                "Motes that are perhaps not where the register says, with what speaks against it.",
                misplaced,
                draw_misplaced,
                reading="The longer its bar, the stronger the doubt: somebody should go and look.",
            )
        )
    clocks = ask("fleet.clocks", {})
    if clocks is not None and any(row["drift_ppm"] is not None for row in clocks.rows):
        figures.append(
            Figure(
                "Clocks",
                "How fast the clocks of the motes run: a bar over each speed, taller where more ran at it.",
                clocks,
                draw_clocks,
                reading="Between the dashed lines a clock is as good as the campaign takes it to be; beyond "
                "them, in orange, its times may be off. 100 parts per million are 8.6 seconds a day.",
            )
        )
    told = "Nothing on record speaks against the figures above."
    if scene.data_from is None:
        told = "There are no figures yet to distrust."
    if points:
        heads = [point.head for point in points[:_MOST_HEADS]]
        more = len(points) - len(heads)
        told = f"{words.capital(words.listed([*heads, f'{more} more'] if more else heads))}."
    return Section("doubts", QUESTION, told, figures=figures, choose="Show", points=points)


def _chosen(rows: Sequence[Row], scene: Scene) -> list[Row]:
    """The clearest shifts of each measure in turn, those that tell of people first; a zone once a measure."""
    of_measure: dict[str, dict[str, Row]] = {}
    for row in rows:
        of_measure.setdefault(row["measure"], {}).setdefault(row["zone"], row)
    turns = [list(of_measure[measure].values()) for measure in sorted(of_measure, key=scene.rank)]
    rounds = max(map(len, turns), default=0)
    return [turn[place] for place in range(rounds) for turn in turns if place < len(turn)][:_MOST_SHIFTS]


def _of_work(scene: Scene) -> Iterator[Point]:
    held = scene.work.objects.get("held", 0)
    if held:
        yield Point(
            f"{words.plural(held, 'delivery', 'deliveries')} held back",
            f"Not in any figure until somebody admits or discards {'it' if held == 1 else 'them'}.",
            "motelake status LAKE",
            "doubt",
        )
    if scene.work.read and scene.work.rejected / scene.work.read > _REJECTED_SHARE:
        yield Point(
            f"{words.share(scene.work.rejected / scene.work.read)} of all lines rejected",
            f"{scene.work.rejected:,} of {scene.work.read:,} lines could not be taken in.",
            "motelake status LAKE",
            "doubt",
        )


def _of_motes(ask: Ask, scene: Scene) -> Iterator[Point]:
    state = ask("fleet.state", {})
    rows = state.rows if state else []
    if state is not None:
        silent = [row for row in rows if row["state"] in ("silent", "never heard")]
        if silent:
            yield Point(
                f"{words.plural(len(silent), 'mote')} not heard now",
                f"{_motes(silent)}: what {'its zone' if len(silent) == 1 else 'their zones'} did since then "
                "rests on fewer motes.",
                state.call,
                "doubt",
            )
        odd = [row for row in rows if (row["left_out_share"] or 0) > _LEFT_OUT_SHARE]
        if odd:
            yield Point(
                f"{words.plural(len(odd), 'mote')} with many readings left out",
                f"{_motes(odd)}: over a tenth of what they told was flagged as suspect or wrong.",
                state.call,
                "doubt",
            )
    misplaced = ask("fleet.misplaced", {})
    if misplaced is not None and misplaced.rows:
        first = misplaced.rows[0]
        yield Point(
            f"{words.plural(len(misplaced.rows), 'mote')} perhaps not where the register says",
            f"Most doubtful: {words.name(first['mote'])}, {scene.place(first['zone'])}. "
            f"{words.capital('; '.join(evidence(first, scene)))}.",
            misplaced.call,
            "doubt",
        )
    clocks = ask("fleet.clocks", {})
    wrong = sorted({row["mote"] for row in clocks.rows if row["is_beyond_limit"]}) if clocks else []
    if clocks is not None and wrong:
        yield Point(
            f"{words.plural(len(wrong), 'mote')} with a clock beyond its limit",
            f"{words.listed([words.name(mote) for mote in wrong[:5]])}: the times of their readings may be "
            "off.",
            clocks.call,
            "doubt",
        )


def _of_unexplained(ask: Ask, scene: Scene) -> Iterator[Point]:
    answer = ask("change.unexplained", {})
    if answer is not None and answer.rows:
        first = _chosen(answer.rows, scene)[0]
        size = words.difference(first["size"], scene.unit(first["measure"]))
        yield Point(
            f"{words.plural(len(answer.rows), 'shift')} that nothing known explains",
            f"One of the clearest: {scene.place(first['zone'])}, "
            f"{words.inner(scene.measure_title(first['measure']))} {size}, "
            f"{words.moment(first['at'], scene.time_zone)}. Somebody should go and ask.",
            answer.call,
            "doubt",
        )


def _of_length(scene: Scene) -> Iterator[Point]:
    hours = scene.hours(scene.shown_to)
    if scene.data_from is not None and hours < _FEW_DAYS_H:
        days = max(1, round(hours / 24))
        yield Point(
            f"{words.capital(words.plural(days, 'day'))} of listening",
            "So short a campaign holds its daily rhythm a few times only; much that seems to go together "
            "may only keep the same hours.",
        )


def _motes(rows: Sequence[Row]) -> str:
    names = [words.name(row["mote"]) for row in rows[:5]]
    more = len(rows) - len(names)
    return words.listed([*names, words.plural(more, "other")] if more else names)
