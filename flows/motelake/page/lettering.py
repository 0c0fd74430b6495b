"""Texts written into a picture after it is drawn.

The library that draws measures every letter, which was half of its work, and needs it for nothing: charts
are as wide as their frame (`marks.stacked`), and texts are cut to their room before (`Frame.fitted`).
"""

import re
from collections.abc import Mapping
from html import escape
from typing import Any

# Does nothing to letters without an outline, so it can carry a text's number through the drawing.
_NUMBER = "strokeOpacity"
_BLANK = re.compile(r'<text([^>]*) stroke-opacity="(\d+)"([^>]*)/>')
_PARTS = ("layer", "concat", "hconcat", "vconcat")


def without_texts(chart: Mapping[str, Any], texts: list[str]) -> dict[str, Any]:
    """The chart with blanks for the texts of its marks, which are added to texts."""
    mark = chart.get("mark")
    if isinstance(mark, Mapping) and mark["type"] == "text":
        return _blank(chart, texts)
    parts = {name: [without_texts(part, texts) for part in chart[name]] for name in _PARTS if name in chart}
    return {**chart, **parts}


def with_texts(svg: str, texts: list[str]) -> str:
    """What was drawn of such a chart, with its texts in their places."""
    return _BLANK.sub(
        lambda blank: f"<text{blank[1]}{blank[3]}>{escape(texts[int(blank[2])], quote=False)}</text>", svg
    )


def _blank(layer: Mapping[str, Any], texts: list[str]) -> dict[str, Any]:
    name = layer["encoding"]["text"]["field"]
    rows = []
    for row in layer["data"]["values"]:
        rows.append({**row, name: "", _NUMBER: len(texts)})
        texts.append(row[name])
    number = {"field": _NUMBER, "type": "quantitative", "scale": None}
    return {
        **layer,
        "data": {**layer["data"], "values": rows},
        "encoding": {**layer["encoding"], _NUMBER: number},
    }
