"""A single answer as a picture in a file."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

from motelake.config import Config
from motelake.errors import InputError, QueryError
from motelake.lake.store import Lake
from motelake.library import read_library
from motelake.page.answers import Answer
from motelake.page.drawing import WIDE, to_png, to_svg
from motelake.page.drawings import drawings
from motelake.page.figures import Figure, Section, Story
from motelake.page.markup import page_html
from motelake.page.palette import LIGHT
from motelake.page.pictures import PICTURES
from motelake.page.scene import Scene
from motelake.steps.page import see
from motelake.steps.read import ask, find_current, open_snapshot

KINDS = (".svg", ".png", ".html")


def plot(lake: Lake, view: str, given: Mapping[str, str], file: Path, config: Config) -> None:
    """Draws the answer to a question into a file: .svg, .png or .html by its name.

    Raises QueryError where the question has no picture, the answer has nothing to draw, or the name ends in
    something else; InputError where the file cannot be written.
    """
    draw = PICTURES.get(view)
    if draw is None:
        raise QueryError(f"{view} has no picture. There are pictures of {', '.join(PICTURES)}.")
    if file.suffix not in KINDS:
        raise QueryError(
            f"A picture is {', '.join(KINDS)} by the end of its name; {file.name} is none of them."
        )
    entry = read_library().find(view)
    rows = ask(lake, view, given, memory=config.memory, threads=config.threads).to_pylist()
    units = {column.name: column.unit for column in entry.columns if column.unit}
    answer = Answer(view, rows, given, units, entry.question, entry.misleads)
    try:
        drawn = _drawn(Figure(view, entry.question, answer, draw), _scene(lake, config), file.suffix)
    except ValueError as error:
        raise QueryError(
            f"The answer of {view} could not be drawn: {error}. Without --plot its rows are printed."
        ) from error
    if drawn is None:
        raise QueryError(f"The answer of {view} holds nothing to draw.")
    try:
        file.write_bytes(drawn)
    except OSError as error:
        raise InputError(f"{file} cannot be written: {error.strerror}.") from error


def _drawn(figure: Figure, scene: Scene, suffix: str) -> bytes | None:
    frame = replace(WIDE, palette=LIGHT)
    chart = figure.draw(figure.answer, scene, frame)
    if chart is None:
        return None
    if suffix == ".png":
        return to_png(chart, frame)
    if suffix == ".svg":
        return to_svg(chart, frame, is_alone=True).encode()
    section = Section("answer", figure.answer.view, figure.answer.question, figures=[figure])
    with drawings(scene) as pictures:
        pictures.begin(section)
        return page_html(Story(figure.answer.view, scene.title, [], [section]), scene, pictures).encode()


def _scene(lake: Lake, config: Config) -> Scene:
    engine = open_snapshot(lake, memory=config.memory, threads=config.threads)
    try:
        return see(engine, find_current(lake).id, datetime.now(UTC))
    finally:
        engine.close()
