"""A campaign: all that is known of one deployment before the first burst, checked and frozen."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields
from typing import Any
from zoneinfo import ZoneInfo

from motelake.core.calendars import CalendarEvent, check_calendars, read_calendars
from motelake.core.context import (
    ContextPoint,
    ContextStream,
    build_context,
    check_context,
    read_context_tables,
)
from motelake.core.hashes import content_hash, unordered_hash
from motelake.core.plan import Limits, LocalHours, Plan
from motelake.core.plan_file import read_plan
from motelake.core.problems import Problems, advice
from motelake.core.programme import (
    PROGRAMME,
    ProgrammeEvent,
    build_programme,
    check_programme,
    read_programme_table,
)
from motelake.core.register import Register
from motelake.core.register_checks import check_register
from motelake.core.register_files import (
    REGISTER_FILES,
    ZONES,
    build_register,
    read_register_tables,
)

__all__ = ["Campaign", "Limits", "LocalHours", "campaign_parts", "read_campaign"]


@dataclass(frozen=True, slots=True)
class Campaign(Plan):
    """One deployment: its plan, and the register, programme and context that go with it."""

    register: Register
    programme: tuple[ProgrammeEvent, ...]
    streams: tuple[ContextStream, ...]
    context: tuple[ContextPoint, ...]

    def periods_s(self) -> dict[str, float]:
        """Every mote's burst period in seconds: its own, or that of the campaign."""
        return {mote.mote: mote.burst_period_s or self.burst_period_s for mote in self.register.motes}


def read_campaign(files: Mapping[str, bytes]) -> Campaign:
    """The campaign that these files describe, by their names in the lake.

    Takes campaign.toml and what lies in register/, programme/ and context/; files of other kinds are let be.
    Raises CampaignError with every mistake of every file at once.
    """
    problems = Problems()
    _refuse_strangers(files, problems)
    plan = read_plan(files, problems)
    register = read_register_tables(files, problems)
    check_register(register, plan.get("levels"), problems)
    zones = register[ZONES]
    programme = read_programme_table(files, problems)
    check_programme(programme, zones, problems)
    calendars = _read_calendars(files, plan, problems)
    check_calendars(calendars, programme, zones, problems)
    context = read_context_tables(files, problems)
    check_context(context, zones, problems)
    problems.raise_if_any()
    streams, points = build_context(context)
    return Campaign(
        **plan,
        register=build_register(register),
        programme=(*build_programme(programme), *(found.event for found in calendars)),
        streams=streams,
        context=points,
    )


def campaign_parts(campaign: Campaign) -> dict[str, str]:
    """The SHA-256 of each part of a campaign, by part, so that a run sees which of them changed.

    The order of rows does not show, but for placements, where the later of two rows wins.
    """
    register = campaign.register
    return {
        "campaign": content_hash({field.name: getattr(campaign, field.name) for field in fields(Plan)}),
        "motes": unordered_hash(register.motes),
        "gateways": unordered_hash(register.gateways),
        "zones": unordered_hash(register.zones),
        "measures": unordered_hash(register.measures),
        "placements": content_hash(register.placements),
        "programme": unordered_hash(campaign.programme),
        "context": content_hash([unordered_hash(campaign.streams), unordered_hash(campaign.context)]),
    }


def _read_calendars(
    files: Mapping[str, bytes], plan: Mapping[str, Any], problems: Problems
) -> list[CalendarEvent]:
    # Without the campaign's clock nothing can be said of a calendar; that mistake is told already.
    if not {"time_zone", "starts_at", "ends_at"} <= plan.keys():
        return []
    return read_calendars(files, ZoneInfo(plan["time_zone"]), plan["starts_at"], plan["ends_at"], problems)


def _refuse_strangers(files: Iterable[str], problems: Problems) -> None:
    # A misspelt file would otherwise be a campaign without placements, and nobody would know.
    for file in files:
        folder, _, name = file.partition("/")
        known = {"register": list(REGISTER_FILES), "programme": [PROGRAMME]}.get(folder, [])
        if not file.endswith(".csv") or file in known or (folder == "context" and "/" not in name):
            continue
        if folder in ("register", "programme", "context"):
            hint = advice(file, known, "rename it or take it away")
            problems.add(file, f"the name of the file says nothing here; {hint}")
