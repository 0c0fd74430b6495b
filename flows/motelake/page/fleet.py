"""Where motes and gateways are and which of them live: one plan for each storey."""

from typing import TYPE_CHECKING, Any

from motelake.page import words
from motelake.page.answers import Answer, Ask
from motelake.page.drawing import Frame
from motelake.page.figures import Figure, Section, drawn
from motelake.page.marks import data
from motelake.page.scene import Scene

if TYPE_CHECKING:

    from motelake.page.drawing import Picture

STATES = ("heard", "silent", "never heard", "to come", "removed")
_SHAPES = ("circle", "cross", "triangle-down", "circle", "square")


def draw_delivery(answer: Answer, scene: Scene, frame: Frame) -> "Picture | None":
    """A dot for each mote at the share of its bursts that arrived, by network; shape and colour are its state."""
    import altair as alt

    rows = [row for row in answer.rows if row["delivered_share"] is not None]
    if not rows:
        return None
    networks = sorted({row["network"] or "no network" for row in rows})
    narrow = frame.is_narrow
    lane_px = 64 if narrow else frame.row_px * 1.7
    points: list[dict[str, Any]] = []
    taken: dict[tuple[str, int], int] = {}
    step = 0.012 if not narrow else 0.03
    for row in sorted(rows, key=lambda row: (row["delivered_share"], row["mote"])):
        network = row["network"] or "no network"
        bin_number = round(row["delivered_share"] / step)
        height = taken.get((network, bin_number), 0)
        taken[network, bin_number] = height + 1
        points.append(
            {"network": network, "share": bin_number * step, "height": height, "state": row["state"]}
        )
    tallest = max(taken.values())
    for point in points:
        point["lane"] = networks.index(point["network"]) + 0.36 - 0.78 * point.pop("height") / max(tallest, 5)
    present = [state for state in STATES if any(point["state"] == state for point in points)]
    colours = {
        "heard": frame.palette.crowd,
        "silent": frame.palette.rise_4,
        "never heard": frame.palette.rise_4,
    }
    y = alt.Y("lane:Q", scale=alt.Scale(domain=[-0.5, len(networks) - 0.4], reverse=True), axis=None)
    x = alt.X(
        "share:Q",
        scale=alt.Scale(domain=[0, 1.02], nice=False),
        axis=alt.Axis(
            format="%", title=None, tickCount=5, gridOpacity=0.6, domain=False, values=[0, 0.25, 0.5, 0.75, 1]
        ),
    )
    dots = (
        alt.Chart(data(points))
        .mark_point(filled=True, opacity=0.9, size=46 if narrow else 5 * frame.letter_px)
        .encode(
            x=x,
            y=y,
            shape=alt.Shape(
                "state:N",
                scale=alt.Scale(domain=present, range=[_SHAPES[STATES.index(state)] for state in present]),
                legend=alt.Legend(orient="top", title=None, symbolSize=90, offset=8),
            ),
            color=alt.Color(
                "state:N",
                scale=alt.Scale(
                    domain=present, range=[colours.get(state, frame.palette.soft) for state in present]
                ),
            ),
        )
    )
    floors = (
        alt.Chart(data([{"lane": lane + 0.45} for lane in range(len(networks))]))
        .mark_rule(color=frame.palette.line)
        .encode(y=y)
    )
    names = [
        {"lane": lane + 0.3, "name": frame.fitted(words.name(network), 150)}
        for lane, network in enumerate(networks)
    ]
    labels = (
        alt.Chart(data(names))
        .mark_text(align="left" if narrow else "right", dx=2 if narrow else -10, color=frame.palette.ink)
        .encode(x=alt.value(0), y=y, text="name:N")
    )
    return alt.layer(floors, dots, labels).properties(width=frame.plot_px, height=lane_px * len(networks))


def tell_fleet(ask: Ask, scene: Scene) -> Section:
    """The section on which motes and gateways live."""
    question = "Which motes live, and how much of what they said arrived?"
    answer = ask("fleet.state", {})
    if answer is None or not answer.rows:
        return Section("fleet", question, "The register holds no motes.")
    states = [row["state"] for row in answer.rows]
    counts = {state: states.count(state) for state in STATES if state in states}
    told = f"{words.listed([f'{count:,} {state}' for state, count in counts.items()])}, of {words.plural(len(states), 'mote')}."
    figure = Figure(
        "Motes",
        "The share of each mote's bursts that arrived, by network.",
        answer,
        drawn(draw_delivery, answer, scene),
        reading="One mark for each mote; what stands far from its network's heap is worth a walk.",
        columns=("mote", "network", "zone", "state", "last_heard_at", "delivered_share", "left_out_share", "restarts",
                 "battery_v", "rssi_dbm"),
    )  # fmt: skip
    return Section("fleet", question, words.capital(told), figures=[figure])
