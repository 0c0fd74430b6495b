"""What the watch sees beside bursts: objects that the gate holds, weak batteries, and disks nearly full."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from motelake.config import Config
from motelake.core.alarms import Condition
from motelake.core.compaction import batches_of
from motelake.core.manifests import Manifest
from motelake.lake.chain import read_manifests
from motelake.lake.records import read_decisions, read_judged, read_verdicts
from motelake.lake.store import Lake
from motelake.steps.disk import ROOM_AT_LEAST, free_bytes, nearest_folder, written_places
from motelake.steps.read import ask, read_current
from motelake.steps.watch_state import State

BATTERIES_EVERY = timedelta(hours=1)


def with_held(lake: Lake, state: State, manifests: Sequence[Manifest]) -> State:
    """The state with the objects that the gate holds now and nobody decided about."""
    judged_with = read_judged(lake).judged_with
    if judged_with != state.judged_with:
        # Limits changed: every verdict may be another one.
        ids, held = [one.id for one in batches_of(read_manifests(lake))], {}
    else:
        ids, held = [*state.unjudged, *(one.id for one in manifests)], dict(state.held)
    verdicts = read_verdicts(lake, ids)
    for batch in verdicts.values():
        for verdict in batch.objects:
            held.pop(verdict.object, None)
            if verdict.state == "hold":
                held[verdict.object] = f"{verdict.sha256} {'; '.join(verdict.reasons)}"
    decided = set(read_decisions(lake)) if held else set()
    held = {name: one for name, one in held.items() if one.partition(" ")[0] not in decided}
    unjudged = tuple(one for one in ids if one not in verdicts)
    return replace(state, judged_with=judged_with, unjudged=unjudged, held=held)


def with_batteries(lake: Lake, state: State, now: datetime) -> State:
    """The state with the motes whose battery is empty or will not last, asked once an hour."""
    if state.batteries_at is not None and abs(now - state.batteries_at) < BATTERIES_EVERY:
        return state
    if read_current(lake) is None:
        return state
    rows = ask(lake, "fleet.battery").to_pylist()
    weak = {
        row["mote"]: f"{'is empty' if row['outlook'] == 'empty' else 'will not last'} "
        f"({row['battery_v']:.2f} V)"
        for row in rows
        if row["outlook"] in ("empty", "will not last")
    }
    return replace(state, batteries=weak, batteries_at=now)


def waiting_for_somebody(state: State, now: datetime) -> list[Condition]:
    """One condition for each held object and each weak battery."""
    held = [
        Condition("held", name, now, f"{name} is held: {said.partition(' ')[2]}; admit or discard it")
        for name, said in state.held.items()
    ]
    weak = [
        Condition("battery", mote, now, f"The battery of mote {mote} {said}")
        for mote, said in state.batteries.items()
    ]
    return held + weak


def short_of_room(config: Config, now: datetime) -> list[Condition]:
    """One condition for each disk that a run writes to and that has less room than a run may need."""
    short: dict[int, list[str]] = {}
    for words, folder in written_places(config).items():
        there, free = nearest_folder(folder), free_bytes(folder)
        if there is not None and free is not None and free < ROOM_AT_LEAST:
            short.setdefault(there.stat().st_dev, []).append(f"{words} in {folder}")
    least = f"Less than {ROOM_AT_LEAST / 1e9:.0f} GB is free"
    return [
        Condition("room", places[0], now, f"{least} for {' and '.join(places)}: make room, or runs will stop")
        for places in short.values()
    ]
