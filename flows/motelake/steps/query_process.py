"""The process in which an analyst's SQL runs: it gets one request, answers in Arrow, and ends.

steps/query.py starts it as `python -m motelake.steps.query_process`. The request is JSON on stdin, the answer
an Arrow stream on stdout, a refusal JSON on stderr.
"""

import json
import sys
from pathlib import Path
from typing import Any

from motelake.errors import MotelakeError
from motelake.warehouse.reader import open_reader
from motelake.warehouse.sandbox import answer, check_statement, lock
from motelake.warehouse.walls import end_after, forbid_writing, limit_memory

# Python, the libraries and what DuckDB allocates outside of its own count.
BYTES_BESIDE = 1 << 30


def run(request: dict[str, Any]) -> None:
    """Answers one request on stdout."""
    import pyarrow as pa

    engine = open_reader(Path(request["snapshot"]), request["published"])
    check_statement(engine, request["statement"])
    scratch = Path(request["scratch"])
    if request["lake"]:
        from motelake.lake.store import Lake

        Lake.at(request["lake"]).attach(engine)
    lock(engine, request["paths"], memory=request["memory"], scratch=scratch, threads=request["threads"])
    (memory_bytes,) = engine.execute("select parse_formatted_bytes(?)", [request["memory"]]).fetchall()[0]
    limit_memory(memory_bytes + BYTES_BESIDE)
    forbid_writing(but_in=scratch, is_network_needed=bool(request["lake"]))
    end_after(request["seconds"])
    table = answer(engine, request["statement"])
    with pa.ipc.new_stream(sys.stdout.buffer, table.schema) as stream:
        stream.write_table(table)


def main() -> None:
    """Reads the request, and tells a refusal from an answer by the exit code."""
    try:
        run(json.load(sys.stdin))
    except MotelakeError as error:
        print(json.dumps({"is_refused": error.exit_code == 2, "message": str(error)}), file=sys.stderr)
        sys.exit(error.exit_code)


if __name__ == "__main__":
    main()
