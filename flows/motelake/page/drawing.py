"""Charts as SVG that stands inside a page: colours from its style sheet, text as text, no script."""

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from motelake.page.palette import STYLED, Palette

if TYPE_CHECKING:
    import altair as alt

    Picture = alt.Chart | alt.LayerChart | alt.FacetChart | alt.VConcatChart

_ID = re.compile(r'(id="|url\(#|href="#)([A-Za-z_][\w-]*)')
_LETTER_PX = 6.4


@dataclass(frozen=True)
class Frame:
    """What a picture is drawn for: its width in pixels, the size of its letters, and its colours."""

    width: int = 1040
    letter_px: int = 13
    row_px: int = 30
    palette: Palette = STYLED

    @property
    def is_narrow(self) -> bool:
        """True where labels go above what they name, as on a phone."""
        return self.width < 560

    @property
    def margin_px(self) -> int:
        """Room for labels at the left."""
        return 10 if self.is_narrow else int(self.letter_px * 16)

    @property
    def plot_px(self) -> int:
        """Width between the labels and a small margin at the right."""
        return self.width - self.margin_px - (14 if self.is_narrow else 20)

    def fitted(self, text: str, room_px: float) -> str:
        """Text cut to the room there is."""
        letters = int(room_px / (_LETTER_PX * self.letter_px / 13))
        return text if len(text) <= letters else text[: max(1, letters - 1)].rstrip() + "…"


WIDE = Frame()
NARROW = Frame(width=340, letter_px=13, row_px=30)
HALL = Frame(width=1560, letter_px=22, row_px=50)


def configured(chart: "Picture", frame: Frame) -> dict[str, Any]:
    """The chart's specification in the page's manner."""
    colour, size = frame.palette, frame.letter_px
    axis = {
        "labelColor": colour.soft, "titleColor": colour.soft, "tickColor": colour.line, "domainColor": colour.line,
        "gridColor": colour.line, "labelFontSize": size, "titleFontSize": size, "titleFontWeight": "normal",
        "labelFont": "sans-serif", "titleFont": "sans-serif",
    }  # fmt: skip
    legend = {
        "labelColor": colour.ink, "titleColor": colour.soft, "labelFontSize": size, "titleFontSize": size,
        "titleFontWeight": "normal", "labelLimit": 320, "titleLimit": 600,
    }  # fmt: skip
    specification: dict[str, Any] = chart.to_dict(validate=False)
    specification["config"] = {
        "aria": False,
        "background": None,
        "font": "sans-serif",
        "view": {"stroke": None},
        "axis": axis,
        "legend": legend,
        "text": {"color": colour.ink, "fontSize": size},
        "header": {"labelColor": colour.ink, "labelFontSize": size, "titleColor": colour.soft},
    }
    specification["padding"] = {"left": 0, "right": 2, "top": 4, "bottom": 2}
    return specification


def to_svg(chart: "Picture", frame: Frame) -> str:
    """The chart as SVG text."""
    import vl_convert

    return str(vl_convert.vegalite_to_svg(configured(chart, frame)))


def to_png(chart: "Picture", frame: Frame) -> bytes:
    """The chart as a PNG image of twice its size in pixels, on the palette's paper."""
    import vl_convert

    specification = configured(chart, frame)
    specification["background"] = frame.palette.paper
    specification["padding"] = 24
    return bytes(vl_convert.vegalite_to_png(specification, scale=2))


def within_page(svg: str, key: str) -> str:
    """SVG as part of a page: scaled by the page, its ids its own, hidden from screen readers beside its text."""
    head, rest = svg.split(">", 1)
    box = re.search(r'viewBox="[^"]*"', head)
    opened = f'<svg {box.group(0) if box else ""} aria-hidden="true" focusable="false">'
    return opened + _ID.sub(rf"\g<1>{key}-\g<2>", rest)
