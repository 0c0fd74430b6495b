"""Charts as SVG that stands inside a page: colours from its style sheet, text as text, no script.

A chart is a Vega-Lite specification, which is plain data; vl-convert draws it without a browser.
"""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any
from unicodedata import east_asian_width

from motelake.page.lettering import with_texts, without_texts
from motelake.page.palette import STYLED, Palette

# A Vega-Lite specification, or a part of one.
Chart = dict[str, Any]

_TAG = re.compile(r"<[^>]*>")
_LONG_NUMBER = re.compile(r"\d+\.\d{2,}")
# What a drawing repeats for every mark and a page does not need.
_NEEDLESS = re.compile(
    r' (?:(?:class|role|aria-[a-z]+)="[^"]*"|pointer-events="none"|font-family="sans-serif"|opacity="1"'
    r'|stroke-miterlimit="10")'
)
_SHAPE = re.compile(r'<path d="([^"]*)" fill="[^"]*"/>')
_SHAPES_OF_ONE_COLOUR = re.compile(r'<path d="[^"]*" fill="([^"]*)"/>(?:<path d="[^"]*" fill="\1"/>)+')
_ID = re.compile(r'(id="|url\(#|href="#)([A-Za-z_][\w-]*)')
# Widths of letters in their height, a little above those of the fonts that the page asks for.
_THIN, _WIDE = "fijlrt.,:;!|'()[] I", "mMW%@—…→←"


@dataclass(frozen=True)
class Frame:
    """What a picture is drawn for: its width in pixels, the size of its letters, and its colours."""

    width: int = 1040
    letter_px: int = 13
    row_px: int = 30
    margin_px: int = 210
    palette: Palette = STYLED
    most_px: int = 2000

    @property
    def is_narrow(self) -> bool:
        """True where labels go above what they name, as on a phone."""
        return self.width < 560

    @property
    def is_far(self) -> bool:
        """True where people read from across a hall, and nobody scrolls."""
        return self.most_px < 1000

    @property
    def plot_px(self) -> int:
        """Width between the labels and a small margin at the right."""
        return self.width - self.margin_px - self.letter_px * 2

    def lane_px(self, count: int) -> float:
        """Height of one of so many rows, lower where they would not fit."""
        return min(float(self.row_px), self.most_px / max(1, count))

    def with_margin(self, letters: int) -> "Frame":
        """The same frame with room for so many letters at the left, where labels stand there at all."""
        if self.is_narrow:
            return self
        return replace(self, margin_px=int(min(letters * self.letter_px * 0.6 + 14, self.width * 0.45)))

    def with_names(self, names: Iterable[str]) -> "Frame":
        """The same frame with room for these names at the left, where names stand there at all."""
        if self.is_narrow:
            return self
        longest = max(map(self.width_of, names), default=0.0)
        return replace(self, margin_px=int(min(max(longest, self.letter_px * 7) + 14, self.width * 0.45)))

    def width_of(self, text: str) -> float:
        """About how many pixels a text takes."""
        return self.letter_px * sum(map(_width_of, text))

    def fitted(self, text: str, room_px: float) -> str:
        """Text cut to the room there is."""
        if self.width_of(text) <= room_px:
            return text
        while len(text) > 1 and self.width_of(text) > room_px - self.letter_px:
            text = text[:-1]
        return text.rstrip() + "…"


WIDE = Frame()
NARROW = Frame(width=340, letter_px=13, row_px=30, margin_px=4)
HALL = Frame(width=1560, letter_px=21, row_px=46, margin_px=340, most_px=440)


def to_svg(chart: Chart, frame: Frame, *, is_alone: bool = False) -> str:
    """The chart as SVG text, clear behind unless it is to stand alone."""
    import vl_convert

    texts: list[str] = []
    bare = without_texts(_alone(chart, frame) if is_alone else _configured(chart, frame), texts)
    return with_texts(str(vl_convert.vegalite_to_svg(bare)), texts)


def to_png(chart: Chart, frame: Frame) -> bytes:
    """The chart as a PNG image of twice its size in pixels, on the palette's paper."""
    import vl_convert

    return bytes(vl_convert.vegalite_to_png(_alone(chart, frame), scale=2))


def within_page(svg: str, key: str) -> str:
    """SVG as part of a page: scaled by it, with ids of its own, not read aloud beside its words."""
    head, rest = svg.split(">", 1)
    box = re.search(r'viewBox="[^"]*"', head)
    view = box.group(0) if box else ""
    opened = f'<svg {view} preserveAspectRatio="xMinYMin" aria-hidden="true" focusable="false">'
    # Within tags only: what is written out belongs to the answer.
    slim = _TAG.sub(lambda tag: _ID.sub(rf"\g<1>{key}-\g<2>", _slimmed(tag[0])), rest)
    joined = _SHAPES_OF_ONE_COLOUR.sub(
        lambda run: f'<path d="{"".join(_SHAPE.findall(run[0]))}" fill="{run[1]}"/>', slim
    )
    return opened + joined


def _slimmed(tag: str) -> str:
    return _LONG_NUMBER.sub(lambda number: _shortened(number[0]), _NEEDLESS.sub("", tag))


# Marks of one lane or one time share their numbers.
@lru_cache(1 << 16)
def _shortened(number: str) -> str:
    return f"{float(number):.1f}".removesuffix(".0")


def _width_of(sign: str) -> float:
    if east_asian_width(sign) in "WF":
        return 1.05
    return (
        0.34 if sign in _THIN else 1.02 if sign in _WIDE else 0.76 if sign.isupper() or sign == "w" else 0.58
    )


def _alone(chart: Chart, frame: Frame) -> Chart:
    return _configured(chart, frame) | {"background": frame.palette.paper, "padding": 24}


def _configured(chart: Chart, frame: Frame) -> Chart:
    colour, size = frame.palette, frame.letter_px
    axis: Mapping[str, Any] = {
        "labelColor": colour.soft,
        "titleColor": colour.soft,
        "tickColor": colour.line,
        "domainColor": colour.line,
        "gridColor": colour.line,
        "labelFontSize": size,
        # Numbers and clocks are short; to hold them to a room is to measure them again.
        "labelLimit": 0,
        "titleFontSize": size,
        "titleFontWeight": "normal",
    }
    legend = {
        "labelColor": colour.ink,
        "labelFontSize": size,
        "labelLimit": 320,
        "title": None,
        "symbolSize": size * 10,
        "columnPadding": size * 2.4,
    }
    return chart | {
        "$schema": "https://vega.github.io/schema/vega-lite/v6.json",
        "padding": {"left": 0, "right": 2, "top": 4, "bottom": 2},
        "config": {
            # The page says in words what there is to see, so the marks need no words of their own.
            "aria": False,
            "background": None,
            "font": "sans-serif",
            "view": {"stroke": None},
            "axis": axis,
            "legend": legend,
            "text": {"color": colour.ink, "fontSize": size},
        },
    }
