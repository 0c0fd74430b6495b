"""The campaign of a lake, read and checked."""

from motelake.core.campaign import Campaign, read_campaign
from motelake.core.programme import PROGRAMME
from motelake.core.register_files import REGISTER_FILES
from motelake.lake.store import CAMPAIGN_FILE, Lake

FOLDERS = ("register", "programme", "context")


def read(lake: Lake) -> Campaign:
    """The campaign that a lake's files describe.

    Raises CampaignError with every mistake of every file at once.
    """
    listed = [info.name for folder in FOLDERS for info in lake.list(folder)]
    # A listing may come late; what has a name of its own is asked for by it.
    names = dict.fromkeys([CAMPAIGN_FILE, *REGISTER_FILES, PROGRAMME, *listed])
    return read_campaign(lake.read_many(names))
