"""What holds of any register: it reads back as written, and any damage is told where it was done."""

import csv
import io
from collections.abc import Iterable
from dataclasses import fields
from datetime import UTC, datetime
from string import ascii_letters, ascii_lowercase, digits
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from motelake.core.campaign import read_campaign
from motelake.core.context import ContextPoint, ContextStream
from motelake.core.programme import ProgrammeEvent
from motelake.core.register import (
    MEASURE_KINDS,
    PLACEMENT_HOWS,
    POWERS,
    ROLES,
    Gateway,
    Measure,
    Mote,
    Placement,
    Register,
    Zone,
)
from motelake.errors import CampaignError

Files = dict[str, bytes]

_names = st.builds(
    str.__add__, st.sampled_from(ascii_letters + digits), st.text(ascii_letters + digits + "_.:-", max_size=8)
)
_measure_names = st.builds(
    str.__add__, st.sampled_from(ascii_lowercase), st.text(ascii_lowercase + digits + "_", max_size=8)
)
_numbers = st.none() | st.floats(allow_nan=False, allow_infinity=False)
_positive = st.none() | st.floats(min_value=1e-9, max_value=1e12)
_instants = st.datetimes(
    min_value=datetime(1971, 1, 1), max_value=datetime(2100, 1, 1), timezones=st.just(UTC)
)
_texts = st.text(st.characters(exclude_categories=["Cc", "Cs"]), max_size=12).map(str.strip)
_notes = st.none() | _texts.filter(bool)


def _distinct(names: st.SearchStrategy[str], least: int = 1) -> st.SearchStrategy[list[str]]:
    return st.lists(names, min_size=least, max_size=4, unique=True)


@st.composite
def registers(draw: st.DrawFn) -> Register:
    zones = tuple(
        Zone(name, draw(st.sampled_from(["pit", "track"])), draw(_notes), draw(_notes), draw(_positive),
             draw(_numbers), draw(_numbers))
        for name in draw(_distinct(_names))
    )  # fmt: skip
    roles = draw(st.permutations(ROLES))
    measures = []
    for place, name in enumerate(draw(_distinct(_measure_names))):
        edges = sorted(draw(st.lists(st.floats(-1e6, 1e6), min_size=4, max_size=4)))
        span_low, usual_low, usual_high, span_high = (draw(st.sampled_from([edge, None])) for edge in edges)
        kind, unit = draw(st.sampled_from(MEASURE_KINDS)), draw(_texts.filter(bool))
        role = draw(st.sampled_from([roles[place], None]))
        measures.append(
            Measure(name, draw(_notes), unit, kind, role, span_low, span_high, usual_low, usual_high,
                    draw(_positive), draw(_positive))
        )  # fmt: skip
    networks = draw(_distinct(_names))
    gateways = tuple(
        Gateway(name, networks[0], *draw(_places(zones)), draw(_notes), draw(_notes))
        for name in draw(_distinct(_names, least=0))
    )
    motes = []
    for name in draw(_distinct(_names)):
        kit = "+".join(draw(_distinct(st.sampled_from([measure.measure for measure in measures]))))
        network = draw(st.sampled_from([networks[0], None]))
        times = sorted(draw(st.lists(_instants, min_size=2, max_size=2, unique=True)))
        installed_at, removed_at = (draw(st.sampled_from([time, None])) for time in times)
        motes.append(
            Mote(name, network, kit, *draw(_places(zones)), draw(st.sampled_from([*POWERS, None])),
                 installed_at, removed_at, draw(_notes), draw(_positive))
        )  # fmt: skip
    placements = tuple(
        Placement(
            mote.mote, draw(_instants), *draw(_places(zones)), draw(st.sampled_from(PLACEMENT_HOWS)), None
        )
        for mote in motes
    )
    return Register(tuple(motes), gateways, zones, tuple(measures), placements)


@st.composite
def _places(
    draw: st.DrawFn, zones: tuple[Zone, ...]
) -> tuple[str | None, str | None, float | None, float | None]:
    zone = draw(st.sampled_from([*zones, None]))
    level = draw(st.sampled_from(["pit", "track", None])) if zone is None else zone.level
    return level, zone.zone if zone else None, draw(_numbers), draw(_numbers)


def _csv(kind: type, rows: Iterable[Any], without: str = "") -> bytes:
    """A file with a column for each field of a dataclass, and a row for each of these."""
    names = [field.name for field in fields(kind) if field.name != without]
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(names)
    for row in rows:
        values = (getattr(row, name) for name in names)
        writer.writerow(value.isoformat() if isinstance(value, datetime) else value for value in values)
    return text.getvalue().encode()


@given(registers())
def test_a_written_register_reads_back_as_it_was(depot: Files, register: Register) -> None:
    files = {
        "campaign.toml": depot["campaign.toml"],
        "register/motes.csv": _csv(Mote, register.motes),
        "register/gateways.csv": _csv(Gateway, register.gateways),
        "register/zones.csv": _csv(Zone, register.zones),
        "register/measures.csv": _csv(Measure, register.measures),
        "register/placements.csv": _csv(Placement, register.placements),
    }
    assert read_campaign(files).register == register


@given(st.lists(st.tuples(_names, _notes, _notes, _instants, _instants), unique_by=lambda row: row[0]))
def test_a_written_programme_reads_back_as_it_was(
    depot: Files, rows: list[tuple[str, str | None, str | None, datetime, datetime]]
) -> None:
    events = tuple(
        ProgrammeEvent(name, title, kind, "hall+wheel_pit", min(one, other), max(one, other))
        for name, title, kind, one, other in rows
        if one != other
    )
    files = {name: content for name, content in depot.items() if not name.startswith("programme/")}
    files["programme/programme.csv"] = _csv(ProgrammeEvent, events)
    assert read_campaign(files).programme == events


@given(st.lists(st.tuples(_instants, _numbers, _notes), unique_by=lambda row: row[0]))
def test_a_written_stream_reads_back_as_it_was(
    depot: Files, rows: list[tuple[datetime, float | None, str | None]]
) -> None:
    stream = ContextStream("weather", None, "Cel", "level", None)
    points = tuple(
        ContextPoint("weather", at, value, None, note)
        for at, value, note in rows
        if value is not None or note is not None
    )
    files = {name: content for name, content in depot.items() if not name.startswith("context/")}
    files["context/streams.csv"] = _csv(ContextStream, [stream])
    files["context/weather.csv"] = _csv(ContextPoint, points, without="stream")
    campaign = read_campaign(files)
    assert (campaign.streams, campaign.context) == ((stream,), points)


def _mistakes(files: Files) -> list[str]:
    try:
        read_campaign(files)
    except CampaignError as mistakes:
        return mistakes.problems
    return []


# What no cell with a rule may hold: neither a name nor a number, a time, or a word of a list.
_DAMAGE = ("?", "no such thing", "+", "\x00", "\x7f", "ümlaut", "x" * 300, "12,5", "=1+1", "<b>")
_FREE = {"title", "note", "hidden_at", "unit"} | {"register/zones.csv kind", "programme/programme.csv kind"}


@settings(max_examples=300)
@given(st.data())
def test_any_damaged_cell_is_told_by_file_row_and_column(depot: Files, data: st.DataObject) -> None:
    file = data.draw(st.sampled_from(sorted(name for name in depot if name.endswith(".csv"))))
    header, *rows = csv.reader(io.StringIO(depot[file].decode()))
    ruled = [name for name in header if name not in _FREE and f"{file} {name}" not in _FREE]
    row, column = data.draw(st.integers(0, len(rows) - 1)), data.draw(st.sampled_from(ruled))
    rows[row][header.index(column)] = data.draw(st.sampled_from(_DAMAGE))
    text = io.StringIO()
    csv.writer(text).writerows([header, *rows])
    told = _mistakes(depot | {file: text.getvalue().encode()})
    assert any(line.startswith(f"{file}, row {row + 2}, column {column}: ") for line in told), told


@settings(max_examples=300)
@given(st.data())
def test_any_damaged_byte_gives_a_campaign_or_printable_mistakes(depot: Files, data: st.DataObject) -> None:
    file = data.draw(st.sampled_from(sorted(depot)))
    content = bytearray(depot[file])
    for _ in range(data.draw(st.integers(1, 3))):
        content[data.draw(st.integers(0, len(content) - 1))] = data.draw(st.integers(0, 255))
    for line in _mistakes(depot | {file: bytes(content)}):
        assert "\n" not in line
        assert line.encode("utf-8")


@given(st.sampled_from(["campaign.toml", "register/motes.csv", "programme/x.ics"]), st.binary(max_size=200))
def test_any_bytes_give_mistakes_and_never_another_error(depot: Files, file: str, content: bytes) -> None:
    assert any(line.startswith(file) for line in _mistakes(depot | {file: content}))
