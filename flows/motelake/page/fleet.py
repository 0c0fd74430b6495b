"""Where motes and gateways are and which of them live: one plan for each storey."""

from collections.abc import Sequence
from dataclasses import replace

from motelake.page import words
from motelake.page.answers import Answer, Ask, Row
from motelake.page.drawing import Chart, Frame
from motelake.page.figures import Figure, Section
from motelake.page.marks import lane, layer, quantity, row_names, stacked, text_of
from motelake.page.moments import draw_silence, silences
from motelake.page.plan import draw_plan
from motelake.page.scene import Scene
from motelake.page.states import IN_DOUBT, STATES, by_state

QUESTION = "Which motes and gateways live, and where are they?"
_COLUMNS = (
    "mote", "network", "level", "zone", "state", "last_heard_at", "delivered_share", "left_out_share",
    "restarts", "battery_v", "rssi_dbm",
)  # fmt: skip
# One in twenty bursts is lost as a rule; a mote that loses as many more is told by name.
_FAR = 0.05


def draw_delivery(answer: Answer, scene: Scene, frame: Frame) -> Chart | None:
    """A row for each network: a band where most of its motes are, a named mark for each that is far below."""
    networks: dict[str, list[Row]] = {}
    for row in sorted(answer.rows, key=lambda row: (row["network"] or "", row["delivered_share"] or 0.0)):
        if row["delivered_share"] is not None:
            networks.setdefault(words.name(row["network"] or "no network"), []).append(row)
    if not networks:
        return None
    frame = frame.with_names(networks)
    down = 9 if frame.is_narrow else 0
    bands: list[Chart] = []
    marks: list[Chart] = []
    for number, rows in enumerate(networks.values()):
        shares = [row["delivered_share"] for row in rows]
        tenth = len(shares) // 10
        bands.append({"lane": number, "low": shares[tenth], "high": shares[-1 - tenth]})
        usual = shares[len(shares) // 2]
        marks += _far_below([row for row in rows if row["delivered_share"] < usual - _FAR], number, frame)
    axis = {
        "format": ".0%",
        "title": None,
        "values": [0, 0.25, 0.5, 0.75, 1],
        "gridOpacity": 0.7,
        "domain": False,
    }
    legend = {"orient": "top", "title": None, "offset": 8} if marks else None
    y = lane(len(networks))

    def x(name: str) -> Chart:
        return quantity(name, [0, 1], axis=axis)

    layers = [
        layer(
            "rule",
            bands,
            {"x": x("low"), "x2": {"field": "high"}, "y": y},
            strokeWidth=frame.letter_px * 0.7,
            strokeCap="round",
            color=frame.palette.crowd,
            yOffset=down,
        ),
        layer(
            "point",
            marks,
            {"x": x("share"), "y": y} | by_state([mark["state"] for mark in marks], frame, legend),
            filled=True,
            opacity=1,
            size=80,
            yOffset=down,
        ),
        *(
            layer(
                "text",
                [mark for mark in marks if mark["is_high"] is is_high],
                {"x": x("share"), "y": y, "text": text_of("text")},
                align="right" if is_high else "left",
                dx=-8 if is_high else 8,
                dy=down + 1,
                color=frame.palette.ink,
            )
            for is_high in (False, True)
        ),
        row_names(list(networks), frame),
    ]
    return stacked(layers, frame, (40.0 if frame.is_narrow else frame.lane_px(len(networks))) * len(networks))


def _far_below(rows: Sequence[Row], number: int, frame: Frame) -> list[Chart]:
    """A mark for each mote, its name with that of the mote before where they would write over each other.

    A name stands beside its mark towards the middle, so that it meets neither the band nor the edge.
    """
    marks: list[Chart] = []
    told: list[Chart] = []
    for row in rows:
        share, name = row["delivered_share"], words.name(row["mote"])
        mark = {"lane": number, "share": share, "state": row["state"], "text": "", "is_high": share > 0.5}
        last = told[-1] if told else None
        taken = 0.0 if last is None else (share - last["share"]) * frame.plot_px
        both = frame.width_of(name) + (frame.width_of(last["text"]) if last else 0.0) + frame.letter_px * 2
        if last is not None and taken < both:
            last["text"] += f", {name}"
        else:
            mark["text"] = name
            told.append(mark)
        marks.append(mark)
    return marks


def tell_fleet(ask: Ask, scene: Scene) -> Section:
    """The section on which motes and gateways live, and where they are."""
    answer = ask("fleet.state", {})
    if answer is None or not answer.rows:
        return Section("fleet", QUESTION, "The register holds no motes.")
    states = [row["state"] for row in answer.rows]
    counts = {state: states.count(state) for state in STATES if state in states}
    told = words.listed([f"{count:,} {state}" for state, count in counts.items()])
    behind = f" behind {words.plural(len(scene.gateways), 'gateway')}" if scene.gateways else ""
    misplaced = ask("fleet.misplaced", {})
    doubted = {row["mote"] for row in misplaced.rows} if misplaced else set()
    placed = [dict(row) | {"state": IN_DOUBT} if row["mote"] in doubted else row for row in answer.rows]
    where = Figure(
        "Where they are",
        f"Every mote in the zone it is in now{', and the gateways' if scene.gateways else ''}; "
        f"{words.plural(len(doubted), 'mote')} in doubt.",
        replace(answer, rows=placed),
        draw_plan,
        reading="Storeys from the top down, a box for each zone, a mark for each mote. In doubt: what it "
        "hears or the air pressure it tells does not fit where the register has it.",
        rows=answer.rows,
        columns=_COLUMNS,
    )
    arrived = Figure(
        "How much arrived",
        "The share of each mote's bursts that arrived, by network.",
        answer,
        draw_delivery,
        reading="A band for each network, where eight in ten of its motes are; a mote more than 5 points "
        "below the middle of its network has a mark and its name.",
        columns=_COLUMNS,
    )
    figures = [where, arrived]
    silence = ask("fleet.silence", {})
    gaps = silences(silence.rows) if silence is not None else []
    if silence is not None and gaps:
        lost = len(silence.rows) - len(gaps)
        figures.append(
            Figure(
                "When they were silent",
                f"{words.plural(len(gaps), 'gap')} longer than losses in a row make.",
                silence,
                draw_silence,
                reading="A row for what fell silent together, what cost most bursts first: a whole network "
                "behind its gateway, the power of a zone, or one mote. Orange: still silent."
                + (f" Not shown: {words.plural(lost, 'shorter gap')} of lost bursts." if lost else ""),
                rows=gaps,
            )
        )
    return Section(
        "fleet",
        QUESTION,
        f"{words.capital(told)}, of {words.plural(len(states), 'mote')}{behind}.",
        figures=figures,
        choose="Show",
    )
