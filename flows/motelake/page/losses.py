"""When bursts were lost: a strip of time for each network, and for the motes that lost most."""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

from motelake.page import words
from motelake.page.answers import Answer, Row
from motelake.page.drawing import Chart, Frame
from motelake.page.marks import along_clock, lane, layer, over_time, row_names, stacked
from motelake.page.scene import Scene

_MOST_MOTES = 10
# One in twenty is lost as a rule, so nine in ten is no news.
_CLASSES: tuple[tuple[float, str, str], ...] = (
    (0.9, "quiet", "nine in ten and more"),
    (0.75, "rise_1", "three in four and more"),
    (0.5, "rise_3", "half and more"),
    (1e-9, "rise_4", "less than half"),
    (-1.0, "rise_5", "nothing"),
)


def draw_losses(answer: Answer, scene: Scene, frame: Frame) -> Chart | None:
    """The share of bursts that arrived, of each network and of the worst motes, hour by hour."""
    rows = [row for row in answer.rows if row["bursts_expected"]]
    if not rows:
        return None
    length = timedelta(minutes=int(answer.given.get("every_min", "60")))
    lanes = _by_network(rows) | _by_mote(rows)
    names = list(lanes)
    frame = frame.with_names(names)
    cells = [cell for number, name in enumerate(names) for cell in _runs(lanes[name], number, length, scene)]
    present = [number for number in range(len(_CLASSES)) if any(cell["class"] == number for cell in cells)]
    cells.sort(key=lambda cell: (cell["class"], cell["lane"], cell["from"]))
    for cell in cells:
        cell["arrived"] = _CLASSES[cell.pop("class")][2]
    colours = frame.palette.named()
    lane_px = 36.0 if frame.is_narrow else frame.lane_px(len(names)) * 0.85
    strips = layer(
        "rect",
        cells,
        {
            "x": along_clock("from", scene),
            "x2": {"field": "to"},
            "y": lane(len(names)),
            "color": {
                "field": "arrived",
                "type": "nominal",
                "scale": {
                    "domain": [_CLASSES[number][2] for number in present],
                    "range": [colours[_CLASSES[number][1]] for number in present],
                },
                "legend": {
                    "orient": "top",
                    "title": None,
                    "columns": 1 if frame.is_narrow else 5,
                    "symbolType": "square",
                    "symbolStrokeWidth": 0,
                    "offset": 10,
                },
            },
        },
        height=16 if frame.is_narrow else lane_px * 0.84,
        yOffset=8 if frame.is_narrow else 0,
    )
    picture = stacked([strips, row_names(names, frame)], frame, lane_px * len(names))
    return over_time(picture, scene, frame)


def _by_network(rows: Sequence[Row]) -> dict[str, Mapping[datetime, float]]:
    sums: dict[str, dict[datetime, tuple[float, float]]] = {}
    for row in rows:
        spans = sums.setdefault(
            f"network {words.name(row['network'])}" if row["network"] else "no network", {}
        )
        heard, expected = spans.get(row["at"], (0.0, 0.0))
        spans[row["at"]] = (heard + row["bursts"], expected + row["bursts_expected"])
    return {
        name: {at: heard / expected for at, (heard, expected) in spans.items()}
        for name, spans in sorted(sums.items())
    }


def _by_mote(rows: Sequence[Row]) -> dict[str, Mapping[datetime, float]]:
    spans: dict[str, dict[datetime, float]] = {}
    lost: dict[str, float] = {}
    for row in rows:
        mote = f"mote {words.name(row['mote'])}"
        spans.setdefault(mote, {})[row["at"]] = row["delivered_share"] or 0.0
        lost[mote] = lost.get(mote, 0.0) + row["bursts_expected"] - row["bursts"]
    worst = sorted(lost, key=lambda mote: (-lost[mote], mote))[:_MOST_MOTES]
    return {mote: spans[mote] for mote in worst}


def _runs(
    shares: Mapping[datetime, float], number: int, length: timedelta, scene: Scene
) -> list[dict[str, Any]]:
    runs: list[dict[str, Any]] = []
    for at, share in sorted(shares.items()):
        start = max(0.0, scene.hours(at))
        end = min(scene.hours(at + length), scene.hours(scene.shown_to))
        place = next(place for place, (least, _, _) in enumerate(_CLASSES) if share >= least)
        if runs and runs[-1]["class"] == place and abs(runs[-1]["to"] - start) < 1e-6:
            runs[-1]["to"] = end
        elif end > start:
            runs.append({"lane": number, "class": place, "from": start, "to": end})
    return runs
