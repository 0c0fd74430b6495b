"""Loading into the warehouse what passed the gate or was admitted, and taking out what no longer counts."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

from motelake.config import Config
from motelake.core.campaign import Campaign
from motelake.core.decisions import Decision
from motelake.core.manifests import Manifest, manifest_name
from motelake.core.verdicts import BatchVerdict, Verdict, judging_hash
from motelake.engine import told_surroundings
from motelake.errors import InputError
from motelake.lake.chain import read_manifests
from motelake.lake.records import read_decisions, read_verdicts
from motelake.lake.store import Lake
from motelake.warehouse.load import Delivery, Judged, State, load_deliveries
from motelake.warehouse.record import Recorded, read_objects
from motelake.warehouse.store import open_warehouse, read_state

if TYPE_CHECKING:
    import duckdb

_THROUGH, _JUDGED_WITH, _LAKE = "manifests_through", "judged_with", "lake"


@dataclass(frozen=True)
class LoadReport:
    """What a load did: raw objects moved in or out, and the warehouse afterwards."""

    objects_moved: int
    bursts: int
    readings: int
    held: tuple[str, ...]

    @property
    def needs_attention(self) -> bool:
        """True where an object waits for a decision."""
        return bool(self.held)

    def to_dict(self) -> dict[str, Any]:
        """The report for programs."""
        return asdict(self) | {"needs_attention": self.needs_attention}


def load(lake: Lake, campaign: Campaign, config: Config, say: Callable[[str], None]) -> LoadReport:
    """Brings the warehouse up to the lake: all of it in one transaction, or none.

    Raises LockedError where another process is at work in the warehouse, InputError where the warehouse was
    made from another lake.
    """
    with (
        told_surroundings("Loading"),
        open_warehouse(config) as engine,
        TemporaryDirectory(prefix="motelake-load-", dir=config.work_folder) as work,
    ):
        through = int(read_state(engine, _THROUGH) or 0)
        _refuse_strange_lake(engine, lake, config, through)
        judged_with = judging_hash(campaign)
        if read_state(engine, _JUDGED_WITH) != judged_with:
            # Limits or spans changed: what passed may be held now, and the other way round.
            through = 0
        manifests = _manifests_to_look_at(engine, lake, through)
        verdicts = read_verdicts(lake, [manifest.id for manifest in manifests])
        is_up_to_date = all(verdict.judged_with == judged_with for verdict in verdicts.values())
        decisions = read_decisions(lake)
        counting = _counting(manifests, read_objects(engine))
        deliveries = (
            _deliver(
                lake,
                manifest,
                _judge(manifest, verdicts.get(manifest.id), decisions, counting[manifest.number]),
                Path(work),
            )
            for manifest in manifests
        )
        moved = load_deliveries(
            engine,
            campaign,
            deliveries,
            say,
            state={
                **({_JUDGED_WITH: judged_with} if is_up_to_date else {}),
                _THROUGH: str(max([through, *(manifest.number for manifest in manifests)])),
                **({_LAKE: manifests[0].id} if manifests and manifests[0].number == 1 else {}),
            },
        )
        return _report(engine, moved)


def _manifests_to_look_at(engine: "duckdb.DuckDBPyConnection", lake: Lake, through: int) -> list[Manifest]:
    """New manifests, and old ones with objects that still wait for a verdict or a decision."""
    waiting = engine.execute(
        "select distinct batch from raw_object where state <> 'loaded' and batch <= $through order by batch",
        {"through": through},
    ).fetchall()
    names = [manifest_name(number) for (number,) in waiting]
    found = lake.read_many(names)
    old = [Manifest.from_json(found[name], name) for name in names if name in found]
    return old + read_manifests(lake, after=through)


def _counting(manifests: Sequence[Manifest], on_record: Mapping[str, Recorded]) -> dict[int, set[str]]:
    """The raw objects for which each manifest, by number, has the last word."""
    newest = {staged.name: manifest.number for manifest in manifests for staged in manifest.objects}
    counting: dict[int, set[str]] = {manifest.number: set() for manifest in manifests}
    for name, number in newest.items():
        if name not in on_record or number >= on_record[name].batch:
            counting[number].add(name)
    return counting


def _judge(
    manifest: Manifest, verdict: BatchVerdict | None, decisions: Mapping[str, Decision], counting: set[str]
) -> list[Judged]:
    by_object = {one.object: one for one in verdict.objects} if verdict else {}
    return [
        Judged(staged, *_state(by_object.get(staged.name), decisions.get(staged.sha256)))
        for staged in manifest.objects
        if staged.name in counting
    ]


def _deliver(lake: Lake, manifest: Manifest, judged: Sequence[Judged], work: Path) -> Delivery:
    return Delivery(
        manifest,
        judged,
        lambda: _paths(lake, manifest.staged, work),
        _paths(lake, [name for name in (manifest.rejects, manifest.reading_rejects) if name], work),
    )


def _state(verdict: Verdict | None, decision: Decision | None) -> tuple[State, str | None]:
    if verdict is None:
        return "unchecked", None
    words = "; ".join((*verdict.reasons, *verdict.warnings)) or None
    if decision is not None and verdict.state == "hold":
        return ("admitted" if decision.decision == "admit" else "discarded"), words
    return ("held" if verdict.state == "hold" else "loaded"), words


def _paths(lake: Lake, names: Sequence[str], work: Path) -> list[str]:
    return [str(lake.fetch(name, work)) for name in names]


def _refuse_strange_lake(
    engine: "duckdb.DuckDBPyConnection", lake: Lake, config: Config, through: int
) -> None:
    own = read_state(engine, _LAKE)
    if own is None or through == 0:
        return
    name = manifest_name(1)
    first = lake.read_many([name]).get(name)
    if first is None or Manifest.from_json(first, name).id != own:
        raise InputError(
            f"{config.warehouse} was made from another lake than {lake.url}. Name another file with "
            f"--warehouse, or run `motelake rebuild {lake.url}` to make it again from this lake."
        )


def _report(engine: "duckdb.DuckDBPyConnection", moved: int) -> LoadReport:
    bursts, readings = engine.execute(
        "select (select count(*) from burst), (select count(*) from reading)"
    ).fetchall()[0]
    held = engine.execute("select object from raw_object where state = 'held' order by object").fetchall()
    return LoadReport(moved, bursts, readings, tuple(name for (name,) in held))
