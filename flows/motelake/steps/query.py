"""Ad hoc SQL on the published snapshot: read only, in a process of its own, with limits it cannot lift."""

import json
import signal
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

from motelake.config import Config
from motelake.errors import QueryError, SurroundingsError
from motelake.lake.store import Lake
from motelake.steps.read import find_current, nearest_copy

if TYPE_CHECKING:
    import pyarrow as pa

# Starting Python and reading the answer are not the query's time.
SECONDS_BESIDE = 15.0


def run_sql(lake: Lake, statement: str, config: Config) -> "pa.Table":
    """The rows of one SELECT on the current snapshot.

    Raises QueryError, with a sentence for the one who asked, where the statement is anything else, is wrong,
    or needs more than config.sql_memory or config.sql_seconds.
    """
    import pyarrow as pa

    with TemporaryDirectory(dir=config.work_folder, prefix="motelake-query-") as folder:
        scratch = Path(folder) / "scratch"
        scratch.mkdir()
        current = find_current(lake)
        near = nearest_copy(lake, current, Path(folder))
        request = {
            "statement": statement,
            "snapshot": str(near.snapshot),
            "published": near.published,
            "paths": [f"{near.published}/{name}" for names in current.parts.values() for name in names],
            "lake": near.lake.url if near.lake else None,
            "scratch": str(scratch),
            "memory": config.sql_memory,
            "seconds": config.sql_seconds,
            "threads": config.threads,
        }
        code, answer, said = _ask_process(request, config.sql_seconds + SECONDS_BESIDE)
    if code == 0:
        return pa.ipc.open_stream(answer).read_all()
    raise _refusal(code, said, config)


def _ask_process(request: dict[str, Any], seconds: float) -> tuple[int, bytes, bytes]:
    # Without -P a file named like a library, in the folder the analyst stands in, would run as code.
    command: Sequence[str] = (sys.executable, "-P", "-m", "motelake.steps.query_process")
    with subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE
    ) as process:
        try:
            answer, said = process.communicate(json.dumps(request).encode(), timeout=seconds)
        except subprocess.TimeoutExpired:
            return -signal.SIGALRM, b"", b""
        finally:
            process.kill()
    return process.returncode, answer, said


def _refusal(code: int, said: bytes, config: Config) -> QueryError | SurroundingsError:
    if code == -signal.SIGALRM:
        return QueryError(
            f"The query was stopped after {config.sql_seconds:g} seconds. Ask for less (a shorter time, "
            "fewer motes), or give it longer with MOTELAKE_SQL_SECONDS."
        )
    try:
        refusal = json.loads(said)
        kind = QueryError if refusal["is_refused"] else SurroundingsError
        return kind(refusal["message"])
    except (ValueError, KeyError, TypeError):
        last = said.decode(errors="replace").strip().rpartition("\n")[2] or "it said nothing"
        return QueryError(
            f"The query ended its process (exit code {code}: {last}). It may have needed more memory than "
            f"{config.sql_memory}: ask for less, or give it more with MOTELAKE_SQL_MEMORY."
        )
