"""Words that sentences for people share."""


def counted(number: int, one: str, several: str | None = None) -> str:
    """A number with its noun."""
    return f"{number:,} {one if number == 1 else several or one + 's'}"
