"""Texts that are written in after drawing stand where they would have been drawn."""

from motelake.page.drawing import WIDE, Chart, _configured, to_svg
from motelake.page.marks import layer, quantity, row_names, stacked, text_of

NAMES = ["Entrance & tickets", "<b>Bed 7</b>", "", "$1 \\1 {0}"]


def picture() -> Chart:
    rows = [{"lane": number, "text": name, "x": 20.0 * number} for number, name in enumerate(NAMES) if name]
    words = layer(
        "text",
        rows,
        {"x": quantity("x", [0, 100]), "y": quantity("lane", [-0.5, 3.5]), "text": text_of("text")},
        align="left",
    )
    return stacked([row_names(NAMES, WIDE), words], WIDE, 120)


def test_a_picture_is_what_the_library_draws_with_its_texts_measured() -> None:
    import vl_convert

    assert to_svg(picture(), WIDE) == vl_convert.vegalite_to_svg(_configured(picture(), WIDE))


def test_a_text_that_looks_like_code_stays_text() -> None:
    svg = to_svg(picture(), WIDE)
    assert svg.count("&lt;b&gt;Bed 7&lt;/b&gt;</text>") == 2
    assert svg.count("$1 \\1 {0}</text>") == 2
    assert "stroke-opacity" not in svg
