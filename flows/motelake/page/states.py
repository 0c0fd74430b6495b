"""How the states of motes, and gateways, look: a shape and a colour each, told apart by either."""

from collections.abc import Collection, Mapping

from motelake.page.drawing import Chart, Frame

IN_DOUBT = "place in doubt"
GATEWAY = "gateway"
STATES = ("heard", "silent", "never heard", "to come", "removed")
_SHAPES: Mapping[str, str] = {
    "heard": "circle",
    "silent": "cross",
    "never heard": "triangle-down",
    "to come": "circle",
    "removed": "square",
    IN_DOUBT: "triangle-up",
    GATEWAY: "diamond",
}
_COLOURS: Mapping[str, str] = {
    "heard": "crowd",
    "silent": "rise_4",
    "never heard": "rise_5",
    "to come": "line",
    "removed": "soft",
    IN_DOUBT: "doubt",
    GATEWAY: "fall_4",
}


def rank(state: str) -> int:
    """Sorts by state, as states are told; doubt and gateways come last."""
    return list(_SHAPES).index(state)


def by_state(found: Collection[str], frame: Frame, legend: Chart | None) -> Chart:
    """The encoding of marks by their column `state`: of each state that was found, its shape and colour."""
    present = sorted(set(found), key=rank)
    colours = frame.palette.named()

    def scaled(looks: Mapping[str, str]) -> Chart:
        return {
            "field": "state",
            "type": "nominal",
            "scale": {"domain": present, "range": [looks[state] for state in present]},
        }

    in_colour = {state: colours[name] for state, name in _COLOURS.items()}
    return {"shape": scaled(_SHAPES) | {"legend": legend}, "color": scaled(in_colour)}
