"""What commands need of a lake besides its steps: the lake itself, and the zone its people live in."""

import tomllib
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

if TYPE_CHECKING:
    from motelake.lake.store import Lake


def open_lake(url: str) -> "Lake":
    """The lake at a folder or URL."""
    from motelake.lake.store import Lake

    return Lake.open(url)


def people_zone(lake: "Lake") -> ZoneInfo:
    """The time zone of the campaign, UTC where its file does not tell one that is known."""
    from motelake.lake.store import CAMPAIGN_FILE

    try:
        return ZoneInfo(str(tomllib.loads(lake.read(CAMPAIGN_FILE).decode())["time_zone"]))
    except (KeyError, ValueError, OSError):
        # Reading what is published must work while somebody mends the campaign's files.
        return ZoneInfo("UTC")
