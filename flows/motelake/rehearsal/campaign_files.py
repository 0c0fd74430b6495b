"""The campaign as its crew would have written it down: campaign.toml, register/, programme/, context/."""

import csv
import io
from collections.abc import Iterable, Sequence
from datetime import datetime

from motelake.rehearsal.crew import Fleet, Gateway, Mote
from motelake.rehearsal.incidents import Incident
from motelake.rehearsal.plan import Plan
from motelake.rehearsal.story import Story
from motelake.rehearsal.venue import Measure, Scene, Stream

MOTE_COLUMNS = (
    "mote", "network", "kit", "level", "zone", "x_m", "y_m", "power", "installed_at", "removed_at", "note",
)  # fmt: skip
GATEWAY_COLUMNS = ("gateway", "network", "level", "zone", "x_m", "y_m", "hidden_at", "note")
ZONE_COLUMNS = ("zone", "level", "title", "kind", "area_m2", "x_m", "y_m")
MEASURE_COLUMNS = (
    "measure", "title", "unit", "kind", "role", "span_low", "span_high", "usual_low", "usual_high",
    "max_step", "flat_after_min",
)  # fmt: skip
EVENT_COLUMNS = ("event", "title", "kind", "zone", "starts_at", "ends_at")
STREAM_COLUMNS = ("stream", "title", "unit", "kind", "max_age_min")
POINT_COLUMNS = ("at", "value", "zone", "note")
PLACEMENT_COLUMNS = ("mote", "from_at", "level", "zone", "x_m", "y_m", "how", "note")


def time_text(at: datetime) -> str:
    """RFC 3339 in UTC, to the second."""
    return at.strftime("%Y-%m-%dT%H:%M:%SZ")


def number_text(value: float | None) -> str:
    """A number as short as it can be written; empty for None."""
    return "" if value is None else f"{value:.10g}"


def csv_text(columns: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """CSV with a header line."""
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows(rows)
    return buffer.getvalue()


def campaign_toml(plan: Plan, scene: Scene) -> str:
    """campaign.toml of the scene."""
    clock = scene.clock
    period = plan.burst_period_s or scene.burst_period_s
    heights = "\n".join(f"{level} = {height}" for level, height in scene.levels.items())
    return (
        f'title = "{scene.title}"\n'
        f'time_zone = "{clock.time_zone}"\n'
        f"starts_at = {time_text(clock.starts_at)}\n"
        f"ends_at = {time_text(clock.ends_at)}\n"
        f"burst_period_s = {number_text(period)}\n"
        "drift_ppm = 100\n\n"
        f"[levels]\n{heights}\n\n"
        f'[baseline]\nfrom = "{scene.baseline[0]}"\nto = "{scene.baseline[1]}"\n\n'
        f'[open]\nfrom = "{scene.open_hours[0]}"\nto = "{scene.open_hours[1]}"\n'
    )


def mote_row(scene: Scene, mote: Mote, removed_s: float | None = None) -> tuple[object, ...]:
    """A row of motes.csv."""
    zone = scene.zones[mote.zone_row]
    removed = "" if removed_s is None else time_text(scene.clock.at(removed_s))
    installed = time_text(scene.clock.at(mote.installed_s))
    return (
        mote.name, f"N{mote.network + 1:02d}", "+".join(mote.kit), zone.level, zone.zone,
        mote.x_m, mote.y_m, mote.power, installed, removed, "",
    )  # fmt: skip


def gateway_row(scene: Scene, gateway: Gateway) -> tuple[object, ...]:
    """A row of gateways.csv."""
    zone = scene.zones[gateway.zone_row]
    x_m, y_m = zone.x_m + 2, zone.y_m - 3
    return (gateway.name, gateway.network, zone.level, zone.zone, x_m, y_m, gateway.hidden_at, "")


def measure_row(measure: Measure) -> tuple[object, ...]:
    """A row of measures.csv."""
    return (
        measure.measure, measure.title, measure.unit, measure.kind, measure.role,
        number_text(measure.span_low), number_text(measure.span_high),
        number_text(measure.usual_low), number_text(measure.usual_high),
        number_text(measure.max_step), number_text(measure.flat_after_min),
    )  # fmt: skip


def placement_rows(scene: Scene, fleet: Fleet, incidents: Sequence[Incident]) -> list[tuple[object, ...]]:
    """What the crew noted about motes changing places, by time."""
    noted: list[tuple[float, str, int | None, str, str]] = []
    for item in incidents:
        if not item.is_noted:
            continue
        name = fleet.motes[item.row].name if item.kind != "power_cut" else ""
        match item.kind:
            case "moved":
                noted.append((item.from_s, name, item.place, "moved", "carried over by the crew"))
            case "removed":
                noted.append((item.from_s, name, None, "removed", "taken down"))
            case "found":
                noted.append((item.to_s, name, item.place, "found", "nobody knows since when"))
            case "planned_only":
                noted.append((item.from_s, name, item.place, "planned", "if there is time"))
    rows: list[tuple[object, ...]] = []
    for second, name, place, how, note in sorted(noted, key=lambda item: (item[0], item[1])):
        zone = scene.zones[place] if place is not None else None
        where = (zone.level, zone.zone, zone.x_m, zone.y_m) if zone else ("", "", "", "")
        rows.append((name, time_text(scene.clock.at(second)), *where, how, note))
    return rows


def notes_of_power_cuts(scene: Scene, incidents: Sequence[Incident]) -> list[tuple[object, ...]]:
    """A note a power cut, some minutes late, as people write."""
    return [
        (time_text(scene.clock.at(item.from_s + 120)), "", scene.zones[item.row].zone, "the lights went out")
        for item in incidents
        if item.kind == "power_cut"
    ]


def context_rows(story: Story, stream: Stream) -> list[tuple[object, ...]]:
    """Rows of one stream's file, by time."""
    rows: list[tuple[object, ...]] = [
        (time_text(point.at), number_text(point.value), point.zone, point.note) for point in stream.points
    ]
    if stream.stream == "notes":
        rows += notes_of_power_cuts(story.scene, story.incidents)
    return sorted(rows, key=lambda row: str(row[0]))


def campaign_files(story: Story) -> dict[str, str]:
    """Every file of the campaign besides raw/, by its name in the lake."""
    scene, fleet = story.scene, story.fleet
    removed = {item.row: item.from_s for item in story.incidents if item.kind == "removed"}
    motes = [
        mote_row(scene, mote, removed.get(row)) for row, mote in enumerate(fleet.motes) if mote.is_registered
    ]
    gateways = [gateway_row(scene, gateway) for gateway in fleet.gateways]
    zones = [
        (zone.zone, zone.level, zone.title, zone.kind, zone.area_m2, zone.x_m, zone.y_m)
        for zone in scene.zones
    ]
    events = [
        (
            item.event,
            item.title,
            item.kind,
            "+".join(item.zones),
            time_text(item.starts_at),
            time_text(item.ends_at),
        )
        for item in scene.events
    ]
    streams = [
        (item.stream, item.title, item.unit, item.kind, number_text(item.max_age_min))
        for item in scene.streams
    ]
    files = {
        "campaign.toml": campaign_toml(story.plan, scene),
        "register/motes.csv": csv_text(MOTE_COLUMNS, motes),
        "register/gateways.csv": csv_text(GATEWAY_COLUMNS, gateways),
        "register/zones.csv": csv_text(ZONE_COLUMNS, zones),
        "register/measures.csv": csv_text(MEASURE_COLUMNS, map(measure_row, scene.measures)),
        "programme/programme.csv": csv_text(EVENT_COLUMNS, events),
        "context/streams.csv": csv_text(STREAM_COLUMNS, streams),
    }
    placements = placement_rows(scene, fleet, story.incidents)
    if placements:
        files["register/placements.csv"] = csv_text(PLACEMENT_COLUMNS, placements)
    for stream in scene.streams:
        files[f"context/{stream.stream}.csv"] = csv_text(POINT_COLUMNS, context_rows(story, stream))
    return files
