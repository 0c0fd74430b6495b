"""The campaign's register, programme and context as tables of the warehouse."""

from collections.abc import Iterable, Sequence
from dataclasses import asdict
from datetime import datetime, timedelta
from typing import Any

import duckdb
import pyarrow as pa

from motelake.core.campaign import Campaign
from motelake.core.places import resolve_places


def write_register(engine: duckdb.DuckDBPyConnection, campaign: Campaign) -> None:
    """Replaces the register tables by what the campaign says now."""
    register = campaign.register
    _replace(engine, "campaign", [_campaign_row(campaign)])
    _replace(
        engine, "level", [{"level": name, "height_m": height} for name, height in campaign.levels.items()]
    )
    for table, rows in (
        ("mote", register.motes),
        ("gateway", register.gateways),
        ("zone", register.zones),
        ("measure", register.measures),
        ("placement", register.placements),
        ("programme_event", campaign.programme),
        ("context_stream", campaign.streams),
        ("context_point", campaign.context),
    ):
        _replace(engine, table, [asdict(row) for row in rows])
    _replace(engine, "mote_place", _place_rows(campaign))


def _campaign_row(campaign: Campaign) -> dict[str, Any]:
    baseline, open_hours = campaign.baseline, campaign.open_hours
    return {
        "title": campaign.title,
        "time_zone": campaign.time_zone,
        "starts_at": campaign.starts_at,
        "ends_at": campaign.ends_at,
        "burst_period_s": campaign.burst_period_s,
        "drift_ppm": campaign.drift_ppm,
        "baseline_from": baseline.from_time if baseline else None,
        "baseline_to": baseline.to_time if baseline else None,
        "open_from": open_hours.from_time if open_hours else None,
        "open_to": open_hours.to_time if open_hours else None,
    }


def _place_rows(campaign: Campaign) -> list[dict[str, Any]]:
    # "Since ever" and "for ever" become times just outside what can be received, so that they stay plain
    # times. What a register says of times further out has no burst to place.
    first: datetime = campaign.starts_at - timedelta(days=1)
    last: datetime = campaign.ends_at + timedelta(days=1, minutes=campaign.limits.late_min)
    rows = [
        asdict(place)
        | {"from_at": max(place.from_at or first, first), "to_at": min(place.to_at or last, last)}
        for place in resolve_places(campaign.register)
    ]
    return [row for row in rows if row["from_at"] < row["to_at"]]


def _replace(engine: duckdb.DuckDBPyConnection, table: str, rows: Sequence[dict[str, Any]]) -> None:
    engine.execute(f"delete from {table}")
    if not rows:
        return
    columns = [
        name
        for (name,) in engine.execute(
            "select column_name from duckdb_columns() where schema_name = 'main' and table_name = $table "
            "order by column_index",
            {"table": table},
        ).fetchall()
    ]
    incoming = pa.table({name: _column(row.get(name) for row in rows) for name in columns})
    engine.register("incoming", incoming)
    engine.execute(f"insert into {table} by name select * from incoming")
    engine.unregister("incoming")


def _column(values: Iterable[Any]) -> pa.Array:
    return pa.array(list(values))
