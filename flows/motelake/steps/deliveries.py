"""What a lake has for a warehouse: the manifests it has not seen, each object with what was decided."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from motelake.config import Config
from motelake.core.compaction import batches_of, files_now, reject_files, taken_over
from motelake.core.decisions import Decision
from motelake.core.manifests import Manifest, manifest_name
from motelake.core.verdicts import BatchVerdict, Verdict
from motelake.errors import InputError
from motelake.lake.chain import read_manifests
from motelake.lake.records import read_verdicts
from motelake.lake.store import Lake
from motelake.warehouse.load import OWN_LAKE, Delivery, Judged, State
from motelake.warehouse.record import Recorded, read_objects
from motelake.warehouse.store import read_state

if TYPE_CHECKING:
    import duckdb

_THROUGH, _JUDGED_WITH = "manifests_through", "judged_with"
# Before the name of a file: the one that a compaction put it into.
_MOVED = "moved:"


@dataclass(frozen=True)
class Deliveries:
    """What there is to load, fetched as it is asked for, and what the warehouse is to remember then."""

    each: Iterator[Delivery]
    state: Mapping[str, str]
    through: int


@dataclass(frozen=True)
class _Stock:
    """The files of a lake as this machine reads them; moved tells where compactions put them."""

    lake: Lake
    work: Path
    moved: Mapping[str, str]
    is_read_in_place: bool
    fetched: dict[str, str] = field(default_factory=dict)

    def staged(self, manifest: Manifest) -> list[str]:
        names = files_now(manifest.staged, self.moved)
        return [self.lake.engine_path(name) for name in names] if self.is_read_in_place else self.fetch(names)

    def fetch(self, names: Iterable[str]) -> list[str]:
        # Many batches share the file that a compaction made of theirs.
        return [
            self.fetched.get(name) or self.fetched.setdefault(name, str(self.lake.fetch(name, self.work)))
            for name in names
        ]


def find_deliveries(
    engine: "duckdb.DuckDBPyConnection",
    lake: Lake,
    config: Config,
    decisions: Mapping[str, Decision],
    *,
    judged_with: str,
    work: Path,
    until: int | None = None,
    is_read_in_place: bool = False,
) -> Deliveries:
    """New manifests, and old ones with objects that still wait for a verdict or a decision.

    until is the last manifest to look at, None the last there is. What a remote lake has is copied to work;
    where it is read in place, by who needs a few rows of it, the engine must have the lake attached, and the
    files of rejects are left out.
    Raises InputError where the warehouse was made from another lake.
    """
    through = int(read_state(engine, _THROUGH) or 0)
    refuse_strange_lake(engine, lake, config)
    if read_state(engine, _JUDGED_WITH) != judged_with:
        # Limits or spans changed: what passed may be held now, and the other way round.
        through = 0
    looked_at = [
        manifest
        for manifest in _manifests_to_look_at(engine, lake, through)
        if until is None or manifest.number <= until
    ]
    manifests, moved = batches_of(looked_at), taken_over(looked_at)
    stock = _Stock(lake, work, _moved_before(engine) | moved, is_read_in_place)
    verdicts = read_verdicts(lake, [manifest.id for manifest in manifests])
    is_up_to_date = all(verdict.judged_with == judged_with for verdict in verdicts.values())
    counting = _counting(manifests, read_objects(engine))
    last = max([through, *(manifest.number for manifest in looked_at)])
    return Deliveries(
        each=(
            _deliver(
                stock,
                manifest,
                _judge(manifest, verdicts.get(manifest.id), decisions, counting[manifest.number]),
            )
            for manifest in manifests
        ),
        state={
            **({_JUDGED_WITH: judged_with} if is_up_to_date else {}),
            _THROUGH: str(last),
            **{_MOVED + old: new for old, new in moved.items()},
            **({OWN_LAKE: manifests[0].id} if manifests and manifests[0].number == 1 else {}),
        },
        through=last,
    )


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


def _moved_before(engine: "duckdb.DuckDBPyConnection") -> dict[str, str]:
    rows = engine.execute(
        "select key[len($moved) + 1:], value from work.state where starts_with(key, $moved)",
        {"moved": _MOVED},
    ).fetchall()
    return dict(rows)


def _deliver(stock: _Stock, manifest: Manifest, judged: Sequence[Judged]) -> Delivery:
    rejects = [] if stock.is_read_in_place else files_now(reject_files(manifest), stock.moved)
    return Delivery(manifest, judged, lambda: stock.staged(manifest), stock.fetch(rejects))


def _state(verdict: Verdict | None, decision: Decision | None) -> tuple[State, str | None]:
    if verdict is None:
        return "unchecked", None
    words = "; ".join((*verdict.reasons, *verdict.warnings)) or None
    if decision is not None and verdict.state == "hold":
        return ("admitted" if decision.decision == "admit" else "discarded"), words
    return ("held" if verdict.state == "hold" else "loaded"), words


def refuse_strange_lake(engine: "duckdb.DuckDBPyConnection", lake: Lake, config: Config) -> None:
    """Raises InputError where the warehouse was made from another lake."""
    own = read_state(engine, OWN_LAKE)
    if own is None:
        return
    name = manifest_name(1)
    first = lake.read_many([name]).get(name)
    if first is None or Manifest.from_json(first, name).id != own:
        raise InputError(
            f"{config.warehouse} was made from another lake than {lake.url}. Name another file with "
            f"--warehouse, or run `motelake rebuild {lake.url}` to make it again from this lake."
        )
