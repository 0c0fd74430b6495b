"""The page as a browser shows it: nothing is fetched, all is drawn, fits, and can be used by everybody."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, ConsoleMessage, Page, Request

from motelake.page.drawing import WIDE
from motelake.page.markup import style

PAGES = ["page", "hall", "hostile page", "hostile hall", "rehearsed page", "rehearsed hall"]
WIDTHS = [360, 1280, 1920]

OVERFLOWING = """() => [...document.querySelectorAll('body *')].filter(element => {
    if (!element.checkVisibility() || element.closest('.scroll, svg, .skip, .unseen')) return false;
    const box = element.getBoundingClientRect();
    return box.right > innerWidth + 1 || box.left < -1;
}).map(element => element.outerHTML.slice(0, 120))"""

CUT_OFF = """() => [...document.querySelectorAll('svg')].filter(svg => svg.checkVisibility()).flatMap(svg => {
    const room = svg.getBoundingClientRect();
    return [...svg.querySelectorAll('text')].filter(text => {
        const box = text.getBoundingClientRect();
        return box.width && (box.left < room.left - 4 || box.right > room.right + 4);
    }).map(text => text.textContent);
})"""

DRAWN = """() => [...document.querySelectorAll('.drawing')].filter(one => one.checkVisibility()).map(one =>
    [...one.querySelectorAll('svg')].filter(svg => svg.checkVisibility()).map(svg =>
        [...svg.querySelectorAll('path, line, text, rect')].filter(mark => {
            const box = mark.getBoundingClientRect();
            return box.width + box.height > 1;
        }).length))"""


class Watched:
    """A page with all it complained of and all it asked the network for."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.complaints: list[str] = []
        self.requests: list[str] = []
        page.on("console", self._hear)
        page.on("pageerror", lambda error: self.complaints.append(str(error)))
        page.on("request", self._note)

    def _hear(self, message: ConsoleMessage) -> None:
        self.complaints.append(message.text)

    def _note(self, request: Request) -> None:
        if not request.url.startswith("data:"):
            self.requests.append(request.url)


@contextmanager
def opened(browser: Browser, file: Path, width: int = 1280, scheme: str = "light") -> Iterator[Watched]:
    context = browser.new_context(
        viewport={"width": width, "height": 900},
        color_scheme="dark" if scheme == "dark" else "light",
        reduced_motion="reduce",
    )
    watched = Watched(context.new_page())
    watched.page.goto(file.as_uri())
    yield watched
    context.close()


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("name", PAGES)
def test_a_page_opens_quietly_is_drawn_and_fits(
    browser: Browser, pages: dict[str, Path], name: str, width: int
) -> None:
    with opened(browser, pages[name], width) as seen:
        assert seen.complaints == []
        assert seen.requests == [pages[name].as_uri()]
        # The hall shows one question at a time, after what all of them came to.
        scenes = seen.page.locator("article").count() or 1
        drawings = []
        for _ in range(scenes):
            drawings += seen.page.evaluate(DRAWN)
            assert seen.page.evaluate("document.documentElement.scrollWidth") <= width
            assert seen.page.evaluate(OVERFLOWING) == []
            assert seen.page.evaluate(CUT_OFF) == []
            seen.page.keyboard.press("ArrowRight")
        assert len(drawings) >= scenes - 1
        assert all(len(shown) == 1 and shown[0] > 10 for shown in drawings)


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("name", PAGES)
def test_axe_finds_no_serious_fault(browser: Browser, pages: dict[str, Path], name: str, scheme: str) -> None:
    with opened(browser, pages[name], scheme=scheme) as seen:
        seen.page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true; })")
        seen.page.evaluate("document.body.classList.remove('playing')")
        found = Axe().run(seen.page).response["violations"]
        assert [
            (fault["id"], fault["nodes"][0]["html"])
            for fault in found
            if fault["impact"] in ("serious", "critical")
        ] == []


@pytest.mark.parametrize("name", ["page", "hall"])
def test_the_first_screen_tells_what_all_questions_came_to(
    browser: Browser, pages: dict[str, Path], name: str
) -> None:
    with opened(browser, pages[name]) as seen:
        answers = seen.page.locator("header nav li, #overview li")
        assert answers.count() == 7
        for answer in answers.all():
            box = answer.bounding_box()
            assert box is not None
            assert box["y"] + box["height"] <= 900


def test_an_answer_of_the_first_screen_leads_to_its_pictures_by_keyboard(
    browser: Browser, pages: dict[str, Path]
) -> None:
    with opened(browser, pages["page"]) as seen:
        seen.page.locator("header nav a").nth(3).focus()
        seen.page.keyboard.press("Enter")
        assert seen.page.evaluate("location.hash") == "#pairs"
        top = seen.page.locator("#pairs").bounding_box()
        assert top is not None
        assert abs(top["y"]) < 5


@pytest.mark.parametrize("name", ["hostile page", "hostile hall"])
def test_names_that_look_like_code_stay_text(browser: Browser, pages: dict[str, Path], name: str) -> None:
    with opened(browser, pages[name]) as seen:
        assert seen.page.evaluate("window.isHurt") is None
        assert seen.page.locator("img, b, iframe, object").count() == 0
        assert "<script>window.isHurt=1</script>" in seen.page.inner_text("h1")


def test_a_choice_shows_one_picture_and_a_keyboard_is_enough(
    browser: Browser, pages: dict[str, Path]
) -> None:
    with opened(browser, pages["page"]) as seen:
        choice = seen.page.locator("#strips-choice")
        before = seen.page.locator("#strips figure:visible").get_attribute("id")
        choice.focus()
        seen.page.keyboard.press("ArrowDown")
        shown = seen.page.locator("#strips figure:visible")
        assert shown.count() == 1
        assert shown.get_attribute("id") == choice.input_value() != before


def test_a_table_opens_by_keyboard_and_holds_rows(browser: Browser, pages: dict[str, Path]) -> None:
    with opened(browser, pages["page"]) as seen:
        summary = seen.page.locator("#changes figure summary").last
        summary.focus()
        seen.page.keyboard.press("Enter")
        assert seen.page.locator("#changes figure tbody tr:visible").count() > 0


def test_without_script_every_picture_is_there(browser: Browser, pages: dict[str, Path]) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(pages["page"].as_uri())
    assert page.locator("#strips figure:visible").count() == 3
    assert not page.locator(".choice").first.is_visible()
    context.close()


def test_dark_and_light_have_their_own_colours(browser: Browser, pages: dict[str, Path]) -> None:
    papers = set()
    for scheme in ("light", "dark"):
        with opened(browser, pages["page"], scheme=scheme) as seen:
            papers.add(seen.page.evaluate("getComputedStyle(document.documentElement).backgroundColor"))
    assert papers == {"rgb(245, 247, 242)", "rgb(15, 26, 24)"}


def test_paper_gets_light_colours_and_wide_pictures(browser: Browser, pages: dict[str, Path]) -> None:
    with opened(browser, pages["page"], 500, scheme="dark") as seen:
        seen.page.emulate_media(media="print", color_scheme="dark")
        assert seen.page.locator("#crowd .wide").first.is_visible()
        assert not seen.page.locator("#crowd .narrow").first.is_visible()
        colour = seen.page.evaluate("getComputedStyle(document.documentElement).backgroundColor")
        assert colour == "rgb(245, 247, 242)"


def test_the_hall_view_turns_its_pages_and_stops_when_asked(browser: Browser, pages: dict[str, Path]) -> None:
    context = browser.new_context(viewport={"width": 1920, "height": 1080})
    page = context.new_page()
    page.clock.install()
    page.goto(pages["hall"].as_uri())
    first = page.locator("article:visible").get_attribute("id")
    page.clock.run_for(20_500)
    second = page.locator("article:visible").get_attribute("id")
    assert first != second
    page.keyboard.press(" ")
    page.clock.run_for(60_000)
    assert page.locator("article:visible").get_attribute("id") == second
    assert page.evaluate("document.documentElement.scrollHeight") <= 1080
    context.close()


def test_the_hall_view_renews_itself(browser: Browser, pages: dict[str, Path]) -> None:
    context = browser.new_context(viewport={"width": 1920, "height": 1080})
    page = context.new_page()
    page.clock.install()
    loads: list[str] = []
    page.on("load", lambda loaded: loads.append(loaded.url))
    page.goto(pages["hall"].as_uri())
    page.clock.run_for(20_000 * page.locator("article").count() + 600_000)
    page.wait_for_timeout(300)
    assert len(loads) >= 2
    context.close()


def test_texts_are_never_wider_than_pictures_reckon(browser: Browser) -> None:
    """Against the browser's own measure of the first font of the page that is here, if only a wide one is."""
    texts = [
        "Stage in the inspection pit", "M0044, Talks in the signal room", "illillillillill", "WWWMMM@@@%%%",
        "3 d 12 h, 24 motes", "−1,700 ppm", "ÜBERGRÖSSENTRÄGER", "Wasserspeicher, Süd",
    ]  # fmt: skip
    drawn = "".join(f'<svg><text font-size="13px">{text}</text></svg>' for text in texts)
    page = browser.new_page()
    page.set_content(f'<style>{style("page.css")}</style><div class="drawing">{drawn}</div>')
    measured = page.evaluate(
        "() => [...document.querySelectorAll('text')].map(text => text.getComputedTextLength())"
    )
    page.close()
    for text, width in zip(texts, measured, strict=True):
        assert width <= WIDE.width_of(text) <= 1.6 * width, text
