"""The campaign of a lake, read and checked."""

from motelake.core.campaign import Campaign, read_campaign
from motelake.lake.store import CAMPAIGN_FILE, Lake

FOLDERS = ("register", "programme", "context")


def read(lake: Lake) -> Campaign:
    """The campaign that a lake's files describe.

    Raises CampaignError with every mistake of every file at once.
    """
    names = [CAMPAIGN_FILE] + [info.name for folder in FOLDERS for info in lake.list(folder)]
    return read_campaign(lake.read_many(names))
