"""Loading by shares: the same content as in one piece, whatever happens to the shares."""

import shutil
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import duckdb
import pytest

from motelake.config import Config
from motelake.core.campaign import Campaign
from motelake.core.decisions import Decision
from motelake.core.published import CURRENT_FILE, Current
from motelake.errors import InputError
from motelake.lake.records import write_decision
from motelake.lake.store import Lake
from motelake.library import read_library
from motelake.steps.check import check
from motelake.steps.compact import compact
from motelake.steps.each import Each, in_turn
from motelake.steps.fingerprint import fingerprint_warehouse
from motelake.steps.load import LoadReport, load
from motelake.steps.publish import PublishReport, publish_warehouse
from motelake.steps.read import open_snapshot
from motelake.steps.rebuild import rebuild
from motelake.steps.refresh_page import Made
from motelake.steps.share import share_folder
from motelake.steps.stage import stage
from motelake.warehouse.fingerprint import fingerprint
from motelake.warehouse.store import open_warehouse

if TYPE_CHECKING:
    from tests.conftest import Fair

RECORD = ("raw_object", "batch", "reject")


class Pair:
    """One lake with two warehouses: one loaded in one piece, one by shares."""

    def __init__(self, fair: "Fair", folder: Path) -> None:
        self.fair = fair
        self.whole = fair.config
        self.shares = replace(
            fair.config,
            warehouse=folder / "by_shares.duckdb",
            dask="tcp://127.0.0.1:1",
            share_motes=5,
        )

    @property
    def lake(self) -> Lake:
        return self.fair.lake

    @property
    def campaign(self) -> Campaign:
        return self.fair.campaign

    def take_in(self, config: Config, each: Each = in_turn) -> LoadReport:
        """Stages, checks and loads what is there."""
        stage(self.lake, self.campaign, config, print, each=each)
        check(self.lake, self.campaign, config, print, each=each)
        return load(self.lake, self.campaign, config, print, each=each)

    def publish(self, config: Config) -> PublishReport:
        with open_warehouse(config) as engine:
            return publish_warehouse(self.lake, engine, read_library(), print, refresh=("run", "hour", "day"))

    def assert_same(self) -> None:
        """Loads what is staged in one piece too, and compares the content and the record of the work."""
        self.take_in(self.whole)
        assert fingerprint_warehouse(self.shares) == fingerprint_warehouse(self.whole)
        assert record(self.shares) == record(self.whole)


def record(config: Config) -> list[list[tuple[Any, ...]]]:
    with duckdb.connect(str(config.warehouse), read_only=True) as engine:
        return [
            engine.execute(
                f"select columns(lambda name: name <> 'loaded_at') from {table} order by all"
            ).fetchall()
            for table in RECORD
        ]


@pytest.fixture
def pair(moving_fair: "Fair", tmp_path: Path) -> Pair:
    return Pair(moving_fair, tmp_path)


def current_of(pair: Pair) -> Current:
    return Current.from_json(pair.lake.read(CURRENT_FILE))


def fingerprint_snapshot(pair: Pair) -> dict[str, str]:
    with open_snapshot(pair.lake) as reader:
        return fingerprint(reader)


def withhold(pair: Pair, *names: str) -> dict[str, bytes]:
    """Takes raw objects away, to be delivered later."""
    held = {name: pair.lake.read(name) for name in names}
    for name in names:
        pair.lake.remove(name)
    return held


def test_the_same_comes_of_shares_as_of_one_piece(pair: Pair) -> None:
    report = pair.take_in(pair.shares)
    pair.assert_same()
    with duckdb.connect(str(pair.whole.warehouse), read_only=True) as engine:
        # The lake has what could come out otherwise: odd ones out, duplicates, minutes with a move in them.
        odd = engine.execute(
            "select mote, count(*) from reading where contains(reason, 'odd') group by mote"
        ).fetchall()
        assert {mote for mote, _ in odd} == {"M02", "M04"}
        ((duplicates,),) = engine.execute("select sum(duplicates) from raw_object").fetchall()
        assert duplicates > 30
        assert engine.execute("select count(*) from mote_minute where zone is null").fetchall() > [(100,)]
        bursts = engine.execute("select count(*) from burst").fetchall()
    assert [(report.bursts,)] == bursts
    assert report.objects_moved == 6


def test_what_comes_later_late_and_in_a_second_kind_of_way_comes_to_the_same(pair: Pair) -> None:
    later = withhold(pair, "raw/1-1.jsonl", "raw/2-0.jsonl", "raw/2-1.jsonl")
    pair.take_in(pair.shares)
    for name in ("raw/2-0.jsonl", "raw/1-1.jsonl", "raw/2-1.jsonl"):
        pair.lake.write(name, later[name])
        pair.take_in(pair.shares)
    pair.assert_same()


def test_a_share_whose_own_warehouse_is_gone_or_of_no_use_makes_it_again(pair: Pair) -> None:
    later = withhold(pair, "raw/2-1.jsonl")
    pair.take_in(pair.shares)
    first, second, *_ = sorted(share_folder(pair.shares).glob("*.duckdb"))
    first.unlink()
    with duckdb.connect(str(second)) as engine:
        engine.execute("update work.state set value = '0' where key = 'schema_version'")
    pair.lake.write("raw/2-1.jsonl", later["raw/2-1.jsonl"])
    pair.take_in(pair.shares)
    pair.assert_same()


def test_the_same_share_worked_on_twice_at_once_and_once_more_changes_nothing(pair: Pair) -> None:
    def twice_at_once(do: Any, items: Any, /) -> Iterator[Any]:
        with ThreadPoolExecutor(4) as pool:
            for item in items:
                one, other = pool.map(do, [item, item])
                again = do(item)
                if hasattr(one, "parts"):
                    assert one.parts == other.parts == again.parts
                    assert one.duplicates == other.duplicates == again.duplicates
                    assert one.written
                    assert again.written == ()
                yield other

    pair.take_in(pair.shares, twice_at_once)
    pair.assert_same()


def test_a_load_that_ends_before_it_is_told_leaves_what_the_next_one_goes_on_from(pair: Pair) -> None:
    def dies(do: Any, items: Any, /) -> Iterator[Any]:
        yield do(next(iter(items)))
        raise InputError("the cluster is gone")

    stage(pair.lake, pair.campaign, pair.shares, print)
    check(pair.lake, pair.campaign, pair.shares, print)
    with pytest.raises(InputError, match="gone"):
        load(pair.lake, pair.campaign, pair.shares, print, each=dies)
    pair.take_in(pair.shares)
    pair.assert_same()
    pair.publish(pair.shares)


def test_parts_of_a_load_that_died_go_a_day_after_somebody_finds_them(
    pair: Pair, monkeypatch: pytest.MonkeyPatch
) -> None:
    def dies(do: Any, items: Any) -> Iterator[Any]:
        yield do(next(iter(items)))
        raise RuntimeError("killed")

    monkeypatch.setattr("motelake.steps.refresh_page.refresh_page", lambda *_, **__: Made(is_made=False))
    late = withhold(pair, pair.lake.list("raw")[0].name)
    for step in (stage, check):
        step(pair.lake, pair.campaign, pair.shares, print)
    with pytest.raises(RuntimeError, match="killed"):
        load(pair.lake, pair.campaign, pair.shares, print, each=dies)
    written = {info.name for info in pair.lake.list("published/parts")}
    for name, data in late.items():
        pair.lake.write(name, data)
    # Where the share is worked on next nobody knows what it had written.
    shutil.rmtree(share_folder(pair.shares))
    pair.take_in(pair.shares)
    report = pair.publish(pair.shares)
    named = {f"published/{name}" for name in current_of(pair).names()}
    left = written - named
    assert left
    assert report.parts_written == len(named) - 1
    assert report.hours == len({name.rpartition("/")[2][:13] for name in named if "/parts/" in name})

    def compact_at(now: datetime) -> set[str]:
        compact(pair.lake, pair.campaign, pair.shares, print, refresh=(), now=now)
        return {info.name for info in pair.lake.list("published/parts")}

    now = datetime.now(UTC)
    assert left <= compact_at(now)
    assert not left & compact_at(now + timedelta(hours=25))
    assert fingerprint_snapshot(pair) == fingerprint_warehouse(pair.shares)
    pair.assert_same()


def test_a_mote_that_is_moved_afterwards_and_a_decision_reach_the_shares(pair: Pair) -> None:
    garbage = pair.lake.read("raw/2-0.jsonl") + b"{\n" * 700
    pair.lake.write("raw/2-0.jsonl", garbage)
    assert pair.take_in(pair.shares).held == ("raw/2-0.jsonl",)
    pair.assert_same()
    with duckdb.connect(str(pair.whole.warehouse), read_only=True) as engine:
        ((sha256, decided_at),) = engine.execute(
            "select sha256, now() from raw_object where state = 'held'"
        ).fetchall()
    write_decision(pair.lake, Decision("raw/2-0.jsonl", sha256, "admit", decided_at))
    assert pair.take_in(pair.shares).held == ()
    pair.assert_same()
    moved = pair.lake.read("register/placements.csv") + b"M07,2031-05-10T01:10:00Z,pit,hall,,,moved,\n"
    pair.lake.write("register/placements.csv", moved)
    pair.take_in(pair.shares)
    pair.assert_same()


def test_only_news_asks_shares_and_parts_that_are_gone_are_news(pair: Pair) -> None:
    def nobody(do: object, items: object, /) -> Iterator[Any]:
        raise AssertionError("a share was asked")

    pair.take_in(pair.shares)
    pair.publish(pair.shares)
    assert load(pair.lake, pair.campaign, pair.shares, print, each=nobody).objects_moved == 0
    shutil.rmtree(pair.lake.local_path("published"))
    with pytest.raises(InputError, match="run `motelake load"):
        pair.publish(pair.shares)
    load(pair.lake, pair.campaign, pair.shares, print)
    pair.assert_same()
    assert pair.publish(pair.shares).is_new


def test_a_rebuild_makes_the_same_and_changes_over_from_one_way_to_the_other(pair: Pair) -> None:
    pair.take_in(pair.whole)
    by_shares = replace(pair.shares, warehouse=pair.whole.warehouse)
    with pytest.raises(InputError, match="made in one piece"):
        load(pair.lake, pair.campaign, by_shares, print)
    whole = fingerprint_warehouse(pair.whole)
    rebuild(pair.lake, pair.campaign, by_shares, print)
    assert fingerprint_warehouse(by_shares) == whole
    with pytest.raises(InputError, match="made by shares"):
        load(pair.lake, pair.campaign, pair.whole, print)
    rebuild(pair.lake, pair.campaign, pair.whole, print)
    assert fingerprint_warehouse(pair.whole) == whole


def test_every_question_has_the_same_answer_both_ways(pair: Pair, tmp_path: Path) -> None:
    made = []
    for config, folder in ((pair.whole, "whole"), (pair.shares, "shares")):
        pair.take_in(config)
        made.append(pair.publish(config).answers_made)
        shutil.move(pair.lake.local_path("published"), tmp_path / folder)
    assert made[0] == made[1]
    assert len(made[0]) > 15
    for name in made[0]:
        one, other = (
            read_rounded(tmp_path / folder / "answers" / f"{name}.parquet") for folder in ("whole", "shares")
        )
        assert one == other, name


def read_rounded(file: Path) -> list[tuple[Any, ...]]:
    """The rows of an answer; what is computed from parts may be added up in another order."""
    with duckdb.connect() as engine:
        rows = engine.execute(f"from read_parquet('{file}')").fetchall()
    return sorted(
        (tuple(float(f"{cell:.9g}") if isinstance(cell, float) else cell for cell in row) for row in rows),
        key=repr,
    )


def test_a_lake_in_a_store_comes_to_the_same(pair: Pair, store_lake: Lake) -> None:
    for info in (*pair.lake.list("raw"), *pair.lake.list("register")):
        store_lake.write(info.name, pair.lake.read(info.name))
    store_lake.write("campaign.toml", pair.lake.read("campaign.toml"))
    stored = replace(pair.shares, lake=store_lake.url, share_folder=pair.shares.warehouse.parent / "own")
    stage(store_lake, pair.campaign, stored, print)
    check(store_lake, pair.campaign, stored, print)
    assert load(store_lake, pair.campaign, stored, print).objects_moved == 6
    pair.take_in(pair.whole)
    assert fingerprint_warehouse(stored) == fingerprint_warehouse(pair.whole)
