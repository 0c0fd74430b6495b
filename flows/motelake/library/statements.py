"""The statements that make a database out of the library, in an order that works."""

from collections.abc import Iterator

from motelake.library.about import Entry, Parameter
from motelake.library.folder import Library


def table_statements(library: Library) -> list[str]:
    """The statements that create the tables and say in the catalogue what they hold."""
    return [text for entry in library.tables() for text in (entry.statement, *comments(entry))]


def statements(library: Library) -> list[str]:
    """The statements that create schemas, views, macros and functions, and comment on them."""
    entries = [entry for entry in library.entries.values() if entry.kind != "table"]
    areas = sorted({entry.area for entry in entries})
    made = [f"create schema if not exists {area}" for area in areas]
    for entry in entries:
        made.append(create_statement(entry))
        made.extend(comments(entry))
    return made


def create_statement(entry: Entry) -> str:
    """The statement that creates one view, macro or function."""
    if entry.kind == "view":
        return f"create or replace view {entry.name} as\n{entry.statement}"
    parameters = ", ".join(_declared(parameter) for parameter in entry.parameters)
    if entry.kind == "macro":
        return f"create or replace macro {entry.name}({parameters}) as table\n{entry.statement}"
    return f"create or replace macro {entry.name}({parameters}) as (\n{entry.statement}\n)"


def comments(entry: Entry, kind: str | None = None) -> Iterator[str]:
    """The statements that carry what is said about an entry into the catalogue.

    DuckDB keeps comments on the columns of tables and views; a macro has one comment, which lists its
    columns. kind says what the entry was created as, where that differs: a snapshot has views for tables.
    """
    kind = kind or entry.kind
    said = " ".join(part for part in (entry.question, entry.grain and f"Grain: {entry.grain}.") if part)
    if kind in ("table", "view"):
        yield f"comment on {kind} {entry.name} is {literal(said)}"
        for column in entry.columns:
            unit = f" [{column.unit}]" if column.unit else ""
            yield f'comment on column {entry.name}."{column.name}" is {literal(column.doc + unit)}'
    elif kind == "macro":
        columns = "; ".join(
            f"{column.name}{f' [{column.unit}]' if column.unit else ''}: {column.doc}"
            for column in entry.columns
        )
        yield f"comment on macro table {entry.name} is {literal(f'{said} Columns: {columns}.')}"
    else:
        yield f"comment on macro {entry.name} is {literal(f'{said} Method: {entry.method}')}"


def _declared(parameter: Parameter) -> str:
    # Times stay untyped, so that an analyst may write them as plain text; the statement casts them.
    declared = parameter.name if parameter.type == "TIMESTAMPTZ" else f"{parameter.name} {parameter.type}"
    return declared if parameter.is_required else f"{declared} := {literal(parameter.default)}"


def literal(value: str | float | bool | None) -> str:
    """A value as SQL writes it."""
    if value is None:
        return "NULL"
    if isinstance(value, bool):
        return str(value).lower()
    return "'" + value.replace("'", "''") + "'" if isinstance(value, str) else repr(value)
