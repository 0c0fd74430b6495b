"""The hall view: one question after the other on a large screen, renewed by itself, with no hand needed."""

from html import escape

from motelake.page import words
from motelake.page.drawings import Drawings, key_of
from motelake.page.figures import Section, Story
from motelake.page.markup import script, shell, style
from motelake.page.scene import Scene

CAUTION = (
    "Relative changes of uncalibrated motes, not for safety, compliance, occupancy limits or evacuation: "
    "local codes and licensed practice decide."
)


def hall_html(story: Story, scene: Scene, pictures: Drawings) -> str:
    """The hall view as one file."""
    drawn = {
        section.key: pictures.find(key_of(section, 0), "hall").svg
        for section in story.sections
        if section.figures
    }
    shown = [section for section in story.sections if drawn.get(section.key)]
    scenes = "\n".join([_overview(story), *(_scene(section, drawn[section.key]) for section in shown)])
    until = (
        f"heard until {words.moment(scene.data_to, scene.time_zone)}"
        if scene.data_to
        else "nothing heard yet"
    )
    body = f"""<h1 class="unseen">{escape(story.title)}</h1>
<main>
{scenes}
</main>
<footer><p><strong>{escape(story.title)}</strong> {escape(until)}</p><p>{escape(CAUTION)}</p></footer>"""
    return shell(story.title, body, style("hall.css"), script("hall.js"))


def _scene(section: Section, drawing: str) -> str:
    figure = section.figures[0]
    return f"""<article id="{section.key}" aria-labelledby="{section.key}-title">
<p class="question">{escape(section.question)}</p><h2 id="{section.key}-title">{escape(section.answer)}</h2>
<p class="reading">{escape(figure.reading)}</p>
<div class="drawing" role="img" aria-label="{escape(figure.says)}">{drawing}</div>
</article>"""


def _overview(story: Story) -> str:
    answers = "".join(
        f"<li><span>{escape(section.question)}</span> {escape(section.answer)}</li>"
        for section in story.sections
    )
    return (
        f'<article id="overview"><p class="question">{escape(story.when)}</p><h2>{escape(story.title)}</h2>'
        f'<p class="lead">{escape(story.opening[0])}</p><ol>{answers}</ol>'
        '<p class="reading">Space stops, arrows turn the page.</p></article>'
    )
