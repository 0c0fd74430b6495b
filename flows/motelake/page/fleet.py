"""Where motes and gateways are and which of them live: one plan for each storey."""

from dataclasses import replace
from typing import Any

from motelake.page import words
from motelake.page.answers import Answer, Ask
from motelake.page.drawing import Chart, Frame
from motelake.page.figures import Figure, Section
from motelake.page.marks import lane, layer, quantity, row_names, stacked
from motelake.page.moments import draw_silence
from motelake.page.plan import COLOURS, IN_DOUBT, SHAPES, draw_plan
from motelake.page.scene import Scene

QUESTION = "Which motes and gateways live, and where are they?"
_COLUMNS = (
    "mote", "network", "level", "zone", "state", "last_heard_at", "delivered_share", "left_out_share",
    "restarts", "battery_v", "rssi_dbm",
)  # fmt: skip
STATES = ("heard", "silent", "never heard", "to come", "removed")


def draw_delivery(answer: Answer, scene: Scene, frame: Frame) -> Chart | None:
    """A mark for each mote at the share of its bursts that arrived, by network; its shape and colour are "
    "its state."""
    rows = [row for row in answer.rows if row["delivered_share"] is not None]
    if not rows:
        return None
    networks = sorted({row["network"] or "no network" for row in rows})
    frame = frame.with_margin(min(24, max(8, *map(len, networks))))
    columns = frame.plot_px // 11
    points: list[dict[str, Any]] = []
    taken: dict[tuple[str, int], int] = {}
    for row in sorted(rows, key=lambda row: (row["delivered_share"], row["mote"])):
        network = row["network"] or "no network"
        column = min(columns, round(row["delivered_share"] * columns))
        height = taken.get((network, column), 0)
        taken[network, column] = height + 1
        points.append(
            {"network": network, "share": column / columns, "height": height, "state": row["state"]}
        )
    tallest = max(taken.values())
    lane_px = min(max(frame.row_px * 1.9, tallest * 11 + 24), frame.row_px * 5)
    rise = min(11, (lane_px - 24) / tallest) / lane_px
    for point in points:
        point["lane"] = networks.index(point["network"]) + 0.4 - rise * point.pop("height")
    present = [state for state in STATES if any(point["state"] == state for point in points)]
    y = lane(len(networks))
    axis = {
        "format": ".0%",
        "title": None,
        "values": [0, 0.25, 0.5, 0.75, 1],
        "gridOpacity": 0.7,
        "domain": False,
    }
    dots = layer(
        "point",
        points,
        {
            "x": quantity("share", [0, 1.01], axis=axis),
            "y": y,
            "shape": {
                "field": "state",
                "type": "nominal",
                "scale": {"domain": present, "range": [SHAPES[state] for state in present]},
                "legend": {"orient": "top", "title": None, "offset": 8},
            },
            "color": {
                "field": "state",
                "type": "nominal",
                "scale": {
                    "domain": present,
                    "range": [frame.palette.named()[COLOURS[state]] for state in present],
                },
            },
        },
        filled=True,
        opacity=1,
        size=70,
    )
    floors = layer(
        "rule",
        [{"lane": number + 0.5} for number in range(len(networks))],
        {"y": y},
        color=frame.palette.line,
    )
    names = row_names([words.name(network) for network in networks], frame, dy=lane_px * 0.25)
    return stacked([floors, dots, names], frame, lane_px * len(networks))


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
        f"Every mote in the zone it is in now, and the gateways; {words.plural(len(doubted), 'mote')} in "
        f"doubt.",
        replace(answer, rows=placed),
        draw_plan,
        reading="Storeys from the top down, a box for each zone, a mark for each mote. In doubt: what it "
        "hears or the "
        "air pressure it tells does not fit where the register has it (fleet.misplaced).",
        rows=answer.rows,
        columns=_COLUMNS,
    )
    arrived = Figure(
        "How much arrived",
        "The share of each mote's bursts that arrived, by network.",
        answer,
        draw_delivery,
        reading="One mark for each mote; what stands far from its network's heap is worth a walk.",
        columns=_COLUMNS,
    )
    figures = [where, arrived]
    silence = ask("fleet.silence", {})
    if silence is not None and silence.rows:
        figures.append(
            Figure(
                "When they were silent",
                f"{words.plural(len(silence.rows), 'gap')} of ten bursts or more.",
                silence,
                draw_silence,
                reading="A row for what fell silent together, the longest gap first: a whole network behind "
                "its gateway, "
                "a zone, or one mote.",
            )
        )
    return Section(
        "fleet",
        QUESTION,
        f"{words.capital(told)}, of {words.plural(len(states), 'mote')}{behind}.",
        figures=figures,
        choose="Show",
    )
