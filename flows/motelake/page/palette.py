"""The page's own colours, on light paper and on dark.

Orange and blue stay apart for every common kind of colour blindness; nothing is told by colour alone.
"""

from collections.abc import Mapping
from dataclasses import dataclass, fields


@dataclass(frozen=True)
class Palette:
    """A colour for each task on the page.

    rise and fall are five steps each, from slight to strong.
    """

    paper: str
    card: str
    ink: str
    soft: str
    line: str
    quiet: str
    night: str
    crowd: str
    doubt: str
    rise_1: str
    rise_2: str
    rise_3: str
    rise_4: str
    rise_5: str
    fall_1: str
    fall_2: str
    fall_3: str
    fall_4: str
    fall_5: str

    def named(self) -> Mapping[str, str]:
        """The colours by name."""
        return {field.name: getattr(self, field.name) for field in fields(self)}


LIGHT = Palette(
    paper="#f5f7f2", card="#ffffff", ink="#17302c", soft="#4d625d", line="#c9d3cc", quiet="#dfe8e0",
    night="#e9eee8", crowd="#3d7a68", doubt="#8a3ffc",
    rise_1="#f8dcbc", rise_2="#f2b67a", rise_3="#df8738", rise_4="#b8551a", rise_5="#7c2f0c",
    fall_1="#cbe1ef", fall_2="#96c2de", fall_3="#5698c4", fall_4="#22699b", fall_5="#0e426a",
)  # fmt: skip
DARK = Palette(
    paper="#0f1a18", card="#16241f", ink="#e8efe9", soft="#a9bbb3", line="#385049", quiet="#243731",
    night="#0a1311", crowd="#7cc2a8", doubt="#c9a3ff",
    rise_1="#43301d", rise_2="#6f4722", rise_3="#ad6426", rise_4="#ec9347", rise_5="#ffcf9a",
    fall_1="#1b3545", fall_2="#245370", fall_3="#3b7fa9", fall_4="#74b4dc", fall_5="#c2e4fa",
)  # fmt: skip

# Pictures in a page take their colours from its style sheet, so that one drawing serves light and dark.
STYLED = Palette(**{field.name: f"var(--{field.name.replace('_', '-')})" for field in fields(Palette)})


def declarations(palette: Palette) -> str:
    """The palette as custom properties of a style sheet."""
    return "".join(f"--{name.replace('_', '-')}:{value};" for name, value in palette.named().items())
