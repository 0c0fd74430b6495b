"""How one call of motelake works: where the lake and the warehouse are, and what it may use.

Each value comes from the first of: the call (lake and warehouse), an environment variable MOTELAKE_<NAME>,
the default. What belongs to the campaign (limits, batch sizes) is in campaign.toml instead, so that everyone
who works on a lake works by the same numbers.
"""

import os
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from hashlib import sha256
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from motelake.errors import InputError

PREFIX = "MOTELAKE_"
_OF_A_MACHINE = ("memory", "threads", "work_folder", "share_folder")
_MEMORY = re.compile(r"(\d+(?:\.\d+)?)\s*([KMGT]i?B)", re.IGNORECASE)


@dataclass(frozen=True)
class Config:
    """The settings of one call, checked."""

    lake: str
    """A folder or an fsspec URL."""
    warehouse: Path
    """The DuckDB file; beside a local lake by default, for any other in the user's data folder."""
    memory: str = "1600MB"
    """What DuckDB may use before it spills to disk, such as 2GB."""
    threads: int | None = None
    """Threads that DuckDB may use; None means one a core."""
    work_folder: Path | None = None
    """Where temporary files go; None means the system's temporary folder."""
    dask: str | None = None
    """Where given, loading goes by shares, and `run` sends them to the Dask scheduler at this address."""
    share_motes: int = 250
    """About how many motes one share holds."""
    share_folder: Path | None = None
    """Where shares keep their own warehouses on this machine; None means beside the lake's."""
    sql_memory: str = "2GB"
    """What one query of an analyst may use, in memory and again on disk."""
    sql_seconds: float = 60.0
    """How long one query of an analyst may take."""


@dataclass(frozen=True)
class _Setting:
    read: Callable[[str], Any]
    accepted: str


def read_config(
    lake: str | None = None, warehouse: str | None = None, *, environment: Mapping[str, str] | None = None
) -> Config:
    """The settings for one lake; what is None was not given in the call.

    Raises InputError naming a wrong value, where it came from and what is accepted, or every place that was
    tried where no lake is named.
    """
    variables = os.environ if environment is None else environment
    values = _set_in(variables, _SETTINGS)
    for name, source, text in (("lake", "LAKE", lake), ("warehouse", "--warehouse", warehouse)):
        if text is not None:
            values[name] = _checked(name, text, source)
    if "lake" not in values:
        raise InputError(
            f"No lake is named. Give it after the command, or set {PREFIX}LAKE to a folder or URL."
        )
    values.setdefault("warehouse", default_warehouse(values["lake"], variables))
    return Config(**values)


def as_set_here(config: Config) -> Config:
    """The same settings with what this machine's environment says of its own memory, threads and folders.

    Work that was sent here was configured elsewhere.
    """
    return replace(config, **_set_in(os.environ, _OF_A_MACHINE))


def default_warehouse(lake: str, environment: Mapping[str, str]) -> Path:
    """Where the warehouse of a lake lies unless told otherwise.

    Beside a local lake, <folder>.duckdb; for a lake elsewhere <name>-<hash of its URL>.duckdb in the user's
    data folder (XDG_DATA_HOME, else ~/.local/share).
    """
    parts = urlsplit(lake)
    if parts.scheme in ("", "file"):
        folder = Path(parts.path if parts.scheme else lake).expanduser().absolute()
        return folder.with_name(f"{folder.name}.duckdb")
    home = environment.get("XDG_DATA_HOME") or str(Path.home() / ".local" / "share")
    name = re.sub(r"[^A-Za-z0-9_-]+", "-", lake.rstrip("/").rpartition("/")[2]) or "lake"
    return Path(home) / "motelake" / f"{name}-{sha256(lake.rstrip('/').encode()).hexdigest()[:8]}.duckdb"


def _set_in(variables: Mapping[str, str], names: Iterable[str]) -> dict[str, Any]:
    # An empty variable is one that somebody meant to unset.
    given = {name: variables.get(PREFIX + name.upper()) for name in names}
    return {name: _checked(name, text, PREFIX + name.upper()) for name, text in given.items() if text}


def _checked(name: str, text: str, source: str) -> Any:
    setting = _SETTINGS[name]
    try:
        return setting.read(text)
    except ValueError:
        raise InputError(f"{source} is {text!r}, which is not accepted: give {setting.accepted}.") from None


def _read_text(text: str) -> str:
    if not text.strip():
        raise ValueError
    return text


def _read_path(text: str) -> Path:
    return Path(_read_text(text)).expanduser().absolute()


def _read_memory(text: str) -> str:
    match = _MEMORY.fullmatch(text.strip())
    if match is None or float(match[1]) == 0:
        raise ValueError
    return match[1] + match[2]


def _read_threads(text: str) -> int:
    threads = int(text)
    if not 1 <= threads <= 1024:
        raise ValueError
    return threads


def _read_address(text: str) -> str:
    if not re.fullmatch(r"(tcp|tls|ucx|ws|wss)://[^/\s]+:\d+", text.strip()):
        raise ValueError
    return text.strip()


def _read_motes(text: str) -> int:
    motes = int(text)
    if motes < 1:
        raise ValueError
    return motes


def _read_seconds(text: str) -> float:
    seconds = float(text)
    if not 0 < seconds <= 86400:
        raise ValueError
    return seconds


_SETTINGS: Mapping[str, _Setting] = {
    "lake": _Setting(_read_text, "a folder or an fsspec URL"),
    "warehouse": _Setting(_read_path, "the path of a DuckDB file"),
    "memory": _Setting(_read_memory, "a size such as 500MB, 3GB or 2.5GiB"),
    "threads": _Setting(_read_threads, "a whole number from 1 to 1024"),
    "work_folder": _Setting(_read_path, "the path of a folder"),
    "dask": _Setting(_read_address, "the address of a Dask scheduler, such as tcp://127.0.0.1:8786"),
    "share_motes": _Setting(_read_motes, "a whole number from 1 on"),
    "share_folder": _Setting(_read_path, "the path of a folder"),
    "sql_memory": _Setting(_read_memory, "a size such as 500MB, 3GB or 2.5GiB"),
    "sql_seconds": _Setting(_read_seconds, "a number of seconds up to 86400"),
}
