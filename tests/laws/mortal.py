"""Runs of motelake that die when they are told to: a small server, asked by lines of JSON.

It loads the libraries once and forks a process for each run, so that a hundred of them can be killed in a
minute. A run goes through the steps as they are. What is put around the lake and the warehouse only counts
the places where something may be committed, before and after each, and kills the process there (SIGKILL).

Asked: config (settings), die_at (number of a place), die_after_s, file_bytes (no file may become longer),
places (a file to write them to), compact_in_h (compact so many hours from now instead of a run); each may be
null. Answered: code (exit code, negative for a signal).
"""

import importlib
import json
import os
import resource
import signal
import sys
import time
import traceback
from collections.abc import Callable, Iterable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

HEAVY = ("great_expectations", "numpy", "pandas", "pyarrow.parquet", "motelake.steps.compact")
WRITING = ("create", "write", "put_file", "remove")


class Fate:
    """Counts the places a run comes by, and ends it at one of them."""

    def __init__(self, die_at: int | None) -> None:
        self.die_at = die_at
        self.places: list[str] = []

    def pass_by(self, place: str) -> None:
        self.places.append(place)
        if len(self.places) - 1 == self.die_at:
            os.kill(os.getpid(), signal.SIGKILL)

    def around(self, deed: Callable[..., Any], place: str) -> Callable[..., Any]:
        def pass_by_and_do(*given: Any, **named: Any) -> Any:
            what = " ".join([place, *(str(one) for one in given if isinstance(one, str))])
            self.pass_by(f"before {what}")
            outcome = deed(*given, **named)
            self.pass_by(f"after {what}")
            return outcome

        return pass_by_and_do


class MortalEngine:
    """A connection to the warehouse whose every statement is a place to die at."""

    def __init__(self, engine: Any, fate: Fate) -> None:
        self._engine, self._fate = engine, fate

    def __getattr__(self, name: str) -> Any:
        deed = getattr(self._engine, name)
        return self._fate.around(deed, f"engine {name}") if name in ("begin", "commit") else deed

    def __enter__(self) -> "MortalEngine":
        return self

    def __exit__(self, *_: object) -> None:
        self._engine.close()

    def execute(self, statement: str, *given: Any) -> Any:
        if statement in ("begin", "commit"):
            return self._fate.around(self._engine.execute, "engine")(statement)
        self._fate.pass_by("statement")
        return self._engine.execute(statement, *given)


def run(asked: dict[str, Any]) -> int:
    """The exit code of one whole run with a fate."""
    from motelake.config import Config
    from motelake.errors import MotelakeError
    from motelake.lake.store import Lake
    from motelake.steps import campaign
    from motelake.steps.compact import compact
    from motelake.steps.run import run as run_steps
    from motelake.warehouse import store

    fate = Fate(asked["die_at"])
    for name in WRITING:
        setattr(Lake, name, fate.around(getattr(Lake, name), name))
    # Where the name is looked up; a connection itself cannot be changed.
    open_engine = vars(store)["open_engine"]
    vars(store)["open_engine"] = lambda *given, **named: MortalEngine(open_engine(*given, **named), fate)
    settings = asked["config"]
    folders = {name: Path(settings[name]) for name in ("warehouse", "work_folder")}
    config = Config(**(settings | folders))
    lake = Lake.open(config.lake)
    if asked["file_bytes"] is not None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (asked["file_bytes"], asked["file_bytes"]))
    try:
        read = campaign.read(lake)
        if asked["compact_in_h"] is None:
            run_steps(lake, read, config, lambda _sentence: None)
        else:
            now = datetime.now(UTC) + timedelta(hours=asked["compact_in_h"])
            compact(lake, read, config, lambda _sentence: None, refresh=("run",), now=now)
    except MotelakeError as error:
        print(error, file=sys.stderr)
        return error.exit_code
    if asked["places"]:
        Path(asked["places"]).write_text(json.dumps(fate.places))
    return 0


def fork_and_wait(asked: dict[str, Any]) -> int:
    """The exit code of one run in a process of its own."""
    process = os.fork()
    if process == 0:
        code = 1
        try:
            code = run(asked)
        except Exception:
            traceback.print_exc()
        finally:
            sys.stderr.flush()
            os._exit(code)
    if asked["die_after_s"] is not None:
        time.sleep(asked["die_after_s"])
        os.kill(process, signal.SIGKILL)
    return os.waitstatus_to_exitcode(os.waitpid(process, 0)[1])


def serve(lines: Iterable[str]) -> None:
    for name in HEAVY:
        importlib.import_module(name)
    for line in lines:
        print(json.dumps({"code": fork_and_wait(json.loads(line))}), flush=True)


if __name__ == "__main__":
    serve(sys.stdin)
