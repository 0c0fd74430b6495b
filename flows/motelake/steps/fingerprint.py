"""The content of a warehouse in a few hashes, to tell whether two are the same."""

from motelake.config import Config
from motelake.engine import open_engine
from motelake.errors import InputError
from motelake.lake.store import Lake
from motelake.warehouse.fingerprint import fingerprint
from motelake.warehouse.shares import is_kept_by_shares


def fingerprint_warehouse(config: Config) -> dict[str, str]:
    """The hash of each table of the warehouse of this configuration; see warehouse.fingerprint.

    Raises InputError where there is no warehouse, LockedError where another process writes to it.
    """
    if not config.warehouse.is_file():
        raise InputError(
            f"There is no warehouse at {config.warehouse}. Run 'motelake run {config.lake}' first, or name "
            "another file with --warehouse."
        )
    engine = open_engine(config.warehouse, is_read_only=True, memory=config.memory, threads=config.threads)
    try:
        if is_kept_by_shares(engine):
            Lake.at(config.lake).attach(engine)
        return fingerprint(engine)
    finally:
        engine.close()
