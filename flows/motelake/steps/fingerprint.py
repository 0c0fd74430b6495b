"""The content of a warehouse in a few hashes, to tell whether two are the same."""

from motelake.config import Config
from motelake.engine import open_engine
from motelake.lake.store import Lake
from motelake.warehouse.fingerprint import fingerprint
from motelake.warehouse.shares import is_kept_by_shares
from motelake.warehouse.store import refuse_missing, told_how_to_mend


def fingerprint_warehouse(config: Config) -> dict[str, str]:
    """The hash of each table of the warehouse of this configuration; see warehouse.fingerprint.

    Raises InputError where there is no warehouse, LockedError where another process writes to it.
    """
    refuse_missing(config)
    with told_how_to_mend(config):
        engine = open_engine(
            config.warehouse, is_read_only=True, memory=config.memory, threads=config.threads
        )
    try:
        if is_kept_by_shares(engine):
            Lake.at(config.lake).attach(engine)
        return fingerprint(engine)
    finally:
        engine.close()
