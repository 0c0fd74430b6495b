"""What one cell of a register file may say: each reader turns text into a value, or raises ValueError.

The phrase of the error says what is wrong and what to write instead; an empty cell never gets here.
"""

import math
import unicodedata
from collections.abc import Callable, Collection

from motelake.core.names import MEASURE_NAME_RULE, NAME_RULE, is_measure_name, is_name, nearest_name
from motelake.core.problems import shown


def check_characters(text: str) -> str:
    """The text itself; refuses controls, and lone surrogates, which stand for bytes that are no UTF-8."""
    if not text.isprintable():
        if any("\ud800" <= character <= "\udfff" for character in text):
            raise ValueError(f"{shown(text)} is not UTF-8; save the file as UTF-8")
        if any(unicodedata.category(character) == "Cc" for character in text):
            raise ValueError(f"{shown(text)} holds a control character; take it out")
    return text


def read_name(text: str) -> str:
    """A name of a mote, gateway, zone, level, network, stream or event."""
    if not is_name(text):
        raise ValueError(f"{shown(text)} is no name; a name is {NAME_RULE}")
    return text


def read_names(text: str) -> str:
    """Names joined by +, each once, without spaces around them."""
    return _joined(text, read_name)


def read_measure_name(text: str) -> str:
    """The name of a measure."""
    if not is_measure_name(text):
        raise ValueError(f"{shown(text)} is no name of a measure; one is {MEASURE_NAME_RULE}")
    return text


def read_kit(text: str) -> str:
    """Names of measures joined by +, each once, without spaces around them."""
    return _joined(text, read_measure_name)


def read_number(text: str) -> float:
    """A finite decimal number; the decimal sign is a point."""
    try:
        number = float(text)
    except ValueError:
        number = math.nan
    # float() also takes "1_000" and digits of other scripts, which no one means in a register.
    if not math.isfinite(number) or "_" in text or not text.isascii():
        raise ValueError(f"{shown(text)} is no number; write digits with a decimal point, such as 12.5")
    return number


def read_positive_number(text: str) -> float:
    """A finite number above zero."""
    number = read_number(text)
    if number <= 0:
        raise ValueError(f"{shown(text)} is not above zero")
    return number


def one_of(choices: Collection[str]) -> Callable[[str], str]:
    """A reader of one word of a closed list."""

    def read_choice(text: str) -> str:
        if text not in choices:
            nearest = nearest_name(text, choices)
            hint = f"; did you mean {nearest!r}?" if nearest else ""
            raise ValueError(f"{shown(text)} is none of {', '.join(choices)}{hint}")
        return text

    return read_choice


def _joined(text: str, read_part: Callable[[str], str]) -> str:
    parts = [read_part(part.strip()) for part in text.split("+")]
    twice = next((part for part in parts if parts.count(part) > 1), None)
    if twice is not None:
        raise ValueError(f"{shown(twice)} stands there twice; name it once")
    return "+".join(parts)
