"""The index of the library that people read, made from what is said beside each entry."""

from motelake.library.about import Entry, Parameter
from motelake.library.folder import Library, read_library
from motelake.library.statements import literal


def index_text(library: Library) -> str:
    """The text of sql/README.md."""
    entries = [entry for entry in library.entries.values() if entry.kind != "table"]
    areas = sorted({entry.area for entry in entries})
    parts = [
        "# The library of views",
        "Made from the `about.yaml` beside each statement; after a change run\n"
        "`python -m motelake.library.index`.\n"
        "`motelake show LAKE NAME [parameter=value ...]` answers; in SQL a view is read as a table "
        "and a macro is called, as in `select * from correlation.lagged(max_lag_min := 60)`.",
    ]
    for area in areas:
        parts.append(f"## {area}")
        parts.extend(_about(entry) for entry in sorted(entries, key=lambda e: e.name) if entry.area == area)
    parts.append("## Tables")
    parts.append(
        "| table | grain |\n| --- | --- |\n"
        + "\n".join(f"| `{entry.name}` | {entry.grain} |" for entry in library.tables())
    )
    return "\n\n".join(parts) + "\n"


def _about(entry: Entry) -> str:
    lines = [f"### {entry.name}", entry.question]
    if entry.grain:
        lines.append(f"*Grain:* {entry.grain}.")
    if entry.parameters:
        lines.append("\n".join(_about_parameter(parameter) for parameter in entry.parameters))
    lines.append(
        "| column | type | unit | meaning |\n| --- | --- | --- | --- |\n"
        + "\n".join(
            f"| {column.name} | {column.type} | {column.unit or ''} | {column.doc} |"
            for column in entry.columns
        )
    )
    lines.append(f"*Method:* {entry.method}")
    if entry.source:
        lines.append(f"*Source:* {entry.source}")
    if entry.misleads:
        lines.append(f"*How it misleads:* {entry.misleads}")
    return "\n\n".join(lines)


def _about_parameter(parameter: Parameter) -> str:
    default = "required" if parameter.is_required else f"default {literal(parameter.default)}"
    choices = f", one of {', '.join(parameter.of)}" if isinstance(parameter.of, tuple) else ""
    return f"- `{parameter.name}` ({parameter.type}, {default}{choices}): {parameter.doc}"


if __name__ == "__main__":
    LIBRARY = read_library()
    (LIBRARY.folder / "README.md").write_text(index_text(LIBRARY), encoding="utf-8")
