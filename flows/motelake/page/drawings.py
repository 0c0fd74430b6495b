"""The pictures of a story, drawn beside other work; one that fails is told in its place, the others stand."""

from collections.abc import Iterator, Mapping
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field

from motelake.page.drawing import HALL, NARROW, WIDE, Frame, to_svg, within_page
from motelake.page.figures import Figure, Section
from motelake.page.scene import Scene

FRAMES: Mapping[str, Frame] = {"wide": WIDE, "narrow": NARROW, "hall": HALL}


@dataclass(frozen=True)
class Drawn:
    """A picture as part of a page, empty where there is nothing to draw; failure is why it is missing."""

    svg: str = ""
    failure: str = ""


@dataclass
class Drawings:
    """Pictures by the key of their figure and the frame they are for."""

    scene: Scene
    pool: ThreadPoolExecutor
    begun: dict[tuple[str, str], Future[Drawn]] = field(default_factory=dict)

    def begin(self, section: Section) -> None:
        """Begins with the pictures of a section; the hall has the first of them only."""
        for place, figure in enumerate(section.figures):
            key = key_of(section, place)
            for way, frame in FRAMES.items():
                if way != "hall" or place == 0:
                    self.begun[key, way] = self.pool.submit(draw, figure, self.scene, frame, f"{key}-{way}")

    def find(self, key: str, way: str) -> Drawn:
        """A picture that was begun, waited for."""
        return self.begun[key, way].result()

    def failures(self) -> list[str]:
        """The pictures that failed, by their figure and frame, each with its reason."""
        ended = {place: future.result().failure for place, future in self.begun.items()}
        return [f"picture {key} ({way}): {failure}" for (key, way), failure in ended.items() if failure]


@contextmanager
def drawings(scene: Scene) -> Iterator[Drawings]:
    """Draws pictures in a thread of its own: the library that draws them lets others work meanwhile."""
    with ThreadPoolExecutor(1) as pool:
        yield Drawings(scene, pool)


def draw(figure: Figure, scene: Scene, frame: Frame, key: str) -> Drawn:
    """The figure's picture in a frame, its ids begun with key."""
    try:
        chart = figure.draw(figure.answer, scene, frame)
        return Drawn(within_page(to_svg(chart, frame), key)) if chart is not None else Drawn()
    # A drawing library may raise anything, and a page with a gap that says why is better than none.
    except Exception as error:
        return Drawn(failure=f"{type(error).__name__}: {error}")


def key_of(section: Section, place: int) -> str:
    """What a figure of a section is called in the page."""
    return f"{section.key}-{place}"
