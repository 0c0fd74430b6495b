"""The snapshot: a small DuckDB file with the register, the record of the work and the library of views.

The large tables are views over explicit lists of parts. A part's name is relative to published/, and the
views put the variable `published` before it where that is set. So the same file can be read after the lake
was moved and through a URL, with `set variable published = '<published>/'`; in a folder
`set file_search_path = '<published>'` does as well.
"""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from hashlib import sha256
from pathlib import Path
from shutil import copyfile

import duckdb

from motelake.core.hashes import content_hash
from motelake.engine import transaction
from motelake.library import Library, comments, literal, statements
from motelake.warehouse.asked import current_catalog
from motelake.warehouse.parts import PARTED, Part, content_name, folder_of, write_rows

# Counts up when the same content is to be written in another way.
FORMAT = 1
# Most tables hold a few rows: with the usual blocks of 256 kB an empty snapshot weighs six times as much.
BLOCK_BYTES = 16384


def parts_by_table(
    engine: duckdb.DuckDBPyConnection, parts: Sequence[Part], published: Path
) -> dict[str, list[str]]:
    """The names of each table's parts: the largest, then the others in order of time.

    DuckDB takes every file to be as long as the first. Behind a short one it held all minutes for a few
    thousand, built its hash tables on them, and took five times as long.
    A table without any gets one part of no rows, written below the local folder published: a list of files
    must not be empty, and the first of them tells DuckDB the columns.
    """
    names: dict[str, list[str]] = {}
    for table in PARTED:
        in_time = sorted((part for part in parts if part.table == table), key=lambda part: part.hour_at)
        largest = max(in_time, key=lambda part: part.row_count, default=None)
        names[table] = [part.name for part in sorted(in_time, key=lambda part: part is not largest)]
    return {table: listed or [_write_empty(engine, table, published)] for table, listed in names.items()}


def library_hash(library: Library) -> str:
    """What the library says in a snapshot, as one word: equal where it is the same."""
    return sha256("\n".join([*_table_comments(library), *statements(library)]).encode()).hexdigest()


def snapshot_id(
    engine: duckdb.DuckDBPyConnection,
    library: Library,
    parts: Mapping[str, Sequence[str]],
    *,
    library_version: str,
    duckdb_version: str,
) -> str:
    """The id of the snapshot of this warehouse, library and list of parts: one content, one id."""
    tables = {
        table.name: engine.execute(
            f"select count(*), sum(hash(t))::varchar, bit_xor(hash(t)) from {table.name} as t"
        ).fetchone()
        for table in library.tables()
        if table.name not in PARTED
    }
    return content_hash([FORMAT, duckdb_version, library_version, tables, parts])[:32]


def build_snapshot(
    engine: duckdb.DuckDBPyConnection,
    library: Library,
    parts: Mapping[str, Sequence[str]],
    file: Path,
    scratch: Path,
    *,
    before: Path | None = None,
) -> None:
    """Writes the snapshot of the warehouse to a local file; scratch is an empty folder to work in.

    before is an older snapshot with the same library, which is taken over from there unless it is damaged:
    DuckDB looks into every macro that it creates, which takes longer than all the rest.
    """
    _put_stand_ins(engine, parts, scratch)
    if before:
        copyfile(before, file)
        # A copy cut short is an IOException wherever it is met.
        with suppress(duckdb.IOException):
            _fill(engine, library, parts, file, scratch, has_library=True)
            return
        file.unlink()
    _fill(engine, library, parts, file, scratch, has_library=False)


def _fill(
    engine: duckdb.DuckDBPyConnection,
    library: Library,
    parts: Mapping[str, Sequence[str]],
    file: Path,
    scratch: Path,
    *,
    has_library: bool,
) -> None:
    home = current_catalog(engine)
    engine.execute(f"attach {literal(str(file))} as made (block_size {BLOCK_BYTES})")
    try:
        engine.execute("use made")
        if has_library:
            _empty_tables(engine, library)
        # One transaction: each statement on its own would wait for the disk, a few hundred times.
        with transaction(engine):
            engine.execute(f"set variable published = {literal(f'{scratch}/')}")
            for table in library.tables():
                if table.name in PARTED:
                    engine.execute(_view_over_parts(table.name, parts[table.name]))
                else:
                    engine.execute(table.statement)
                    engine.execute(
                        f'insert into {table.name} select * from "{home}".main.{table.name} order by all'
                    )
            for statement in (*_table_comments(library), *(() if has_library else statements(library))):
                engine.execute(statement)
    finally:
        engine.execute("reset variable published")
        engine.execute(f'use "{home}"')
        engine.execute("detach made")


def _empty_tables(engine: duckdb.DuckDBPyConnection, library: Library) -> None:
    with transaction(engine):
        for table in library.tables():
            if table.name not in PARTED:
                engine.execute(f"drop table {table.name}")
    # What they took is free for what comes in only then.
    engine.execute("checkpoint")


def _table_comments(library: Library) -> Iterator[str]:
    for table in library.tables():
        yield from comments(table, "view" if table.name in PARTED else "table")


def _view_over_parts(table: str, names: Sequence[str]) -> str:
    listed = ", ".join(literal(name) for name in names)
    return (
        f"create or replace view {table} as select * from "
        f"read_parquet([concat(getvariable('published'), part) for part in [{listed}]])"
    )


def _put_stand_ins(
    engine: duckdb.DuckDBPyConnection, parts: Mapping[str, Sequence[str]], scratch: Path
) -> None:
    # DuckDB looks at every file of a view it creates; empty ones of the same columns spare it the lake's.
    for table, names in parts.items():
        empty = scratch / _write_empty(engine, table, scratch)
        for name in names:
            if scratch / name != empty:
                (scratch / name).hardlink_to(empty)


def _write_empty(engine: duckdb.DuckDBPyConnection, table: str, published: Path) -> str:
    folder = published / folder_of(table)
    folder.mkdir(parents=True, exist_ok=True)
    write_rows(engine, f"select * from {table} limit 0", folder / ".next")
    name = f"{folder_of(table)}/none-{content_name(folder / '.next')}.parquet"
    (folder / ".next").replace(published / name)
    return name
