"""The story as HTML: every text escaped, every picture with its words, its call and its table."""

from base64 import b64encode
from collections.abc import Iterable
from datetime import datetime
from hashlib import sha256
from html import escape
from importlib.resources import files
from typing import Any
from zoneinfo import ZoneInfo

from motelake.page import words
from motelake.page.drawings import Drawings, key_of
from motelake.page.figures import Figure, Point, Section, Story
from motelake.page.palette import DARK, LIGHT, declarations
from motelake.page.scene import Scene


def page_html(story: Story, scene: Scene, pictures: Drawings) -> str:
    """The whole page as one file: style and script inside, nothing to fetch."""
    sections = "\n".join(
        _section(number, section, scene, pictures) for number, section in enumerate(story.sections, start=1)
    )
    opening = "\n".join(f"<p>{escape(text)}</p>" for text in story.opening)
    links = "".join(
        f'<li><a href="#{section.key}"><span>{escape(section.question)}</span> '
        f"{escape(section.answer)}</a></li>"
        for section in story.sections
    )
    contents = f'<nav aria-label="Questions of this page and their answers"><ol>{links}</ol></nav>'
    caution = f'<p class="caution">{escape(story.caution)}</p>' if story.caution else ""
    facts = "".join(f"<dt>{escape(key)}</dt><dd>{escape(text)}</dd>" for key, text in story.facts.items())
    body = f"""<a class="skip" href="#story">To the answers</a>
<header><p class="when">{escape(story.when)}</p><h1>{escape(story.title)}</h1>
<div class="opening">{opening}</div>{contents}{caution}</header>
<main id="story">
{sections}
</main>
<footer><h2>About this page</h2><dl>{facts}</dl></footer>"""
    return shell(story.title, body, style("page.css"), script("page.js"))


def shell(title: str, body: str, css: str, javascript: str) -> str:
    """A page around a body."""
    # Only this very script may run, whatever a name in the register or the programme tries.
    mark = b64encode(sha256(javascript.encode()).digest()).decode()
    policy = (
        f"default-src 'none'; style-src 'unsafe-inline'; script-src 'sha256-{mark}'; img-src data:; "
        "connect-src 'self'"
    )
    return f"""<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<meta http-equiv="Content-Security-Policy" content="{escape(policy)}">
<link rel="icon" href="data:,">
<title>{escape(title)}</title>
<style>
{css}
</style>
</head>
<body>
{body}
<script>{javascript}</script>
</body>
</html>
"""


def style(name: str) -> str:
    """A style sheet of the page, with the palette before it."""
    palettes = (
        f":root{{{declarations(LIGHT)}}}\n"
        f"@media screen and (prefers-color-scheme: dark){{:root{{{declarations(DARK)}}}}}\n"
    )
    return palettes + script(name)


def script(name: str) -> str:
    """The text of a file that belongs to the page."""
    return (files("motelake.page") / name).read_text(encoding="utf-8")


def _section(number: int, section: Section, scene: Scene, pictures: Drawings) -> str:
    more = "".join(f"<p>{escape(text)}</p>" for text in section.more)
    points = _points(section.points) if section.points else ""
    choose = _choice(section) if len(section.figures) > 1 else ""
    figures = "".join(
        _figure(key_of(section, place), figure, scene, pictures)
        for place, figure in enumerate(section.figures)
    )
    missed = "".join(
        f'<p class="missed">Not answered here: <code>{escape(one.call)}</code> {escape(one.why)}</p>'
        for one in section.missed
    )
    caution = f'<p class="caution">{escape(section.caution)}</p>' if section.caution else ""
    return f"""<section id="{section.key}" aria-labelledby="{section.key}-title">
<p class="question"><span class="stop" aria-hidden="true">{number}</span>{escape(section.question)}</p>
<h2 id="{section.key}-title">{escape(section.answer)}</h2>
{more}{choose}<div class="figures">{figures}</div>{missed}{points}{caution}
</section>"""


def _points(points: Iterable[Point]) -> str:
    items = []
    for point in points:
        call = f'<code class="call">{escape(point.call)}</code>' if point.call else ""
        way = f' class="{point.way}"' if point.way else ""
        items.append(
            f"<li{way}><strong>{escape(point.head)}</strong> <span>{escape(point.text)}</span>{call}</li>"
        )
    return f'<ol class="points">{"".join(items)}</ol>'


def _choice(section: Section) -> str:
    options = "".join(
        f'<option value="{section.key}-{place}">{escape(figure.name)}</option>'
        for place, figure in enumerate(section.figures)
    )
    return (
        f'<p class="choice" hidden><label for="{section.key}-choice">{escape(section.choose)}</label> '
        f'<select id="{section.key}-choice" data-of="{section.key}">{options}</select></p>'
    )


def _figure(key: str, figure: Figure, scene: Scene, pictures: Drawings) -> str:
    drawn = {way: pictures.find(key, way) for way in ("wide", "narrow")}
    shown = "".join(f'<div class="{way}">{one.svg}</div>' for way, one in drawn.items() if one.svg)
    drawing = f'<div class="drawing" role="img" aria-labelledby="{key}-says">{shown}</div>' if shown else ""
    failure = next((one.failure for one in drawn.values() if one.failure), "")
    if failure:
        drawing += (
            f'<p class="missed">The picture “{escape(figure.name)}” could not be drawn: {escape(failure)} '
            "Its rows are below.</p>"
        )
    first, *others = figure.calls or [figure.answer.call]
    calls = f"<code>{escape(first)}</code>"
    if others:
        listed = "".join(f"<li><code>{escape(call)}</code></li>" for call in others)
        count = words.plural(len(others), "more call")
        calls += f"<details><summary>and {count}</summary><ul>{listed}</ul></details>"
    reading = f" {escape(figure.reading)}" if figure.reading else ""
    misleads = (
        f'<p class="misleads"><strong>How it can mislead.</strong> {escape(figure.answer.misleads)}</p>'
        if figure.answer.misleads
        else ""
    )
    says = f'<strong id="{key}-says">{escape(figure.says)}</strong>'
    return f"""<figure id="{key}"><figcaption>{says}{reading}</figcaption>
{drawing}
<div class="under"><div class="rests">These rows: {calls}</div>
{_table(figure, scene.time_zone)}{misleads}</div></figure>"""


def _table(figure: Figure, zone: ZoneInfo) -> str:
    columns, rows, total = figure.table
    if not rows:
        return "<p>There are no rows.</p>"
    count = f"{total:,} rows" if total == len(rows) else f"the first {len(rows)} of {total:,} rows"
    head = "".join(
        f'<th scope="col">{escape(column)}{_unit(figure.answer.units.get(column))}</th>' for column in columns
    )
    lines = "".join(
        "<tr>"
        + "".join(f"<td{_side(row[column])}>{escape(cell(row[column], zone))}</td>" for column in columns)
        + "</tr>"
        for row in rows
    )
    return (
        f"<details><summary>As a table ({count if total > 1 else 'one row'})</summary>"
        f'<div class="scroll" tabindex="0" role="region" aria-label="Table: {escape(figure.says)}">'
        f"<table><thead><tr>{head}</tr></thead><tbody>{lines}</tbody></table></div></details>"
    )


def _unit(unit: str | None) -> str:
    return f" <small>{escape(unit)}</small>" if unit and unit not in ("UTC", "the measure's", "/") else ""


def _side(value: Any) -> str:
    return ' class="number"' if isinstance(value, int | float) and not isinstance(value, bool) else ""


def cell(value: Any, zone: ZoneInfo) -> str:
    """A value of an answer as a cell of a table."""
    match value:
        case None:
            return ""
        case bool():
            return "yes" if value else "no"
        case float():
            return words.number(value, 4)
        case int():
            return f"{value:,}"
        case datetime():
            return f"{value.astimezone(zone):%Y-%m-%d %H:%M}"
    return words.name(str(value), 120)
