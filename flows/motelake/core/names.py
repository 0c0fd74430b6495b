"""The names that motes, places and measures may carry, and the nearest one to a wrong name."""

import re
from collections.abc import Iterable
from difflib import get_close_matches

# Names become parts of paths, SQL identifiers and pages, so the alphabet is closed and ASCII. The set is
# that of a SenML name (RFC 8428, section 4.5.1) without the slash.
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_.:-]{0,63}", re.ASCII)
_MEASURE_NAME = re.compile(r"[a-z][a-z0-9_]{0,47}", re.ASCII)

NAME_RULE = "1 to 64 of A-Z a-z 0-9 _ . : -, beginning with a letter or digit"
MEASURE_NAME_RULE = "1 to 48 of a-z 0-9 _, beginning with a letter"


def is_name(text: str) -> bool:
    """Whether a mote, gateway, zone, level, network, stream or event may carry this name."""
    return _NAME.fullmatch(text) is not None


def is_measure_name(text: str) -> bool:
    """Whether a measure may carry this name."""
    return _MEASURE_NAME.fullmatch(text) is not None


def slug(text: str) -> str:
    """Text as a word of a-z, 0-9 and single hyphens, for tools that take no others."""
    return re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-") or "lake"


def nearest_name(name: str, known: Iterable[str]) -> str | None:
    """The known name most like this one, or None where none is near."""
    nearest = get_close_matches(name, list(known), n=1, cutoff=0.5)
    return nearest[0] if nearest else None
