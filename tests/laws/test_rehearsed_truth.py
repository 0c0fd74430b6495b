"""A whole rehearsed day held against its truth: boots, sampling times, flags, and what must never leave raw/.

The seeds here were not used while the detectors were made.
"""

import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import duckdb
import pytest

from motelake.config import Config
from motelake.engine import open_engine
from motelake.lake.store import Lake
from motelake.rehearsal import Plan, rehearse
from motelake.steps import campaign
from motelake.steps.run import run

SEED = 90217


@dataclass(frozen=True)
class Rehearsed:
    """A rehearsed lake after a run, and a connection where `fact` holds bursts beside what truly happened."""

    lake: Path
    truth: Path
    warehouse: Path
    engine: duckdb.DuckDBPyConnection

    def rows(self, statement: str) -> list[tuple[Any, ...]]:
        return self.engine.execute(statement).fetchall()


@pytest.fixture(scope="module")
def rehearsed(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Rehearsed]:
    folder = tmp_path_factory.mktemp("rehearsed")
    lake, warehouse = folder / "fair", folder / "fair.duckdb"
    rehearse(lake, Plan(motes=50, days=1, seed=SEED))
    opened = Lake.open(str(lake))
    run(opened, campaign.read(opened), Config(lake=str(lake), warehouse=warehouse), lambda _: None)
    truth = folder / "fair-truth"
    with open_engine(warehouse, is_read_only=True) as engine:
        engine.execute(
            f"""
            create temp table fact as
            select burst.*, truth.boot as true_boot, truth.is_flushed, truth.sampled_at as true_at,
                   (epoch_us(burst.sampled_at) - epoch_us(truth.sampled_at)) / 1e6 as error_s
            from burst
            join '{truth}/bursts.parquet' as truth
                on truth.mote = burst.mote and truth.seq = burst.seq and truth.fate = 'heard'
                and abs(epoch_us(burst.sampled_at) - epoch_us(truth.sampled_at)) < 10_000_000
            """
        )
        engine.execute(
            f"""
            create temp table faulty as
            select fact.burst, wrong.measure, wrong.fault
            from '{truth}/faulty_readings.parquet' as wrong
            join fact on fact.mote = wrong.mote and fact.seq = wrong.seq and fact.true_at = wrong.sampled_at
            """
        )
        # Bursts of motes that nobody said were moved, misplaced from the start, or shut in a cupboard.
        engine.execute(
            f"""
            create temp table astray as
            select fact.burst
            from fact
            join read_csv('{truth}/placements.csv') as stood
                on stood.mote = fact.mote and fact.true_at >= stood.from_at and fact.true_at < stood.to_at
            left join mote_place as told
                on told.mote = fact.mote and fact.true_at >= told.from_at and fact.true_at < told.to_at
            where stood.is_shut_in or stood.zone is distinct from told.zone
            """
        )
        yield Rehearsed(lake, truth, warehouse, engine)


@pytest.mark.parametrize(
    ("table", "key"),
    [
        ("burst", "burst"),
        ("reading", "burst, measure"),
        ("mote_minute", "mote, measure, minute_at"),
        ("zone_minute", "zone, measure, minute_at"),
    ],
)
def test_nothing_stands_there_twice(rehearsed: Rehearsed, table: str, key: str) -> None:
    assert rehearsed.rows(f"select count(*) - count(distinct ({key})) from {table}") == [(0,)]


def test_every_burst_is_one_that_was_sent(rehearsed: Rehearsed) -> None:
    [(bursts, matched)] = rehearsed.rows(
        "select (select count(*) from burst), count(distinct burst) from fact"
    )
    assert isinstance(bursts, int)
    assert bursts > 150_000
    # A line may be damaged so that it still reads as a burst, with a number cut short.
    assert matched >= 0.9998 * bursts


def test_boots_are_told_apart_in_all_but_a_thousandth(rehearsed: Rehearsed) -> None:
    [(bursts, misplaced)] = rehearsed.rows(
        """
        select count(*), count(*) filter (boot <> true_rank)
        from (
            select boot, dense_rank() over (partition by mote order by true_boot) - 1 as true_rank from fact
        )
        """
    )
    assert misplaced <= 0.001 * bursts


def test_sampling_times_are_found_to_a_tenth_of_a_second(rehearsed: Rehearsed) -> None:
    [(middle, most, worst_flushed)] = rehearsed.rows(
        """
        select
            median(error_s) filter (time_quality = 'fitted'),
            quantile_cont(error_s, 0.99) filter (time_quality = 'fitted'),
            max(abs(error_s)) filter (is_flushed)
        from fact
        """
    )
    assert middle < 0.1
    assert most < 0.5
    assert worst_flushed < 2


@pytest.mark.parametrize("fault", ["stuck", "spiking", "out_of_span"])
def test_injected_faults_are_flagged(rehearsed: Rehearsed, fault: str) -> None:
    [(injected, flagged)] = rehearsed.rows(
        f"""
        select count(*), count(*) filter (flag in (3, 4))
        from faulty join reading using (burst, measure) where fault = '{fault}'
        """
    )
    assert isinstance(injected, int)
    assert injected > 0, f"the seed has no {fault} readings: choose another"
    assert flagged >= 0.95 * injected


def test_healthy_readings_are_left_alone(rehearsed: Rehearsed) -> None:
    shares = rehearsed.rows(
        """
        select measure, count(*) filter (flag in (3, 4)) / count(*)
        from reading anti join faulty using (burst, measure) anti join astray using (burst)
        group by measure
        """
    )
    assert len(shares) == 8
    assert {measure: share for measure, share in shares if share >= 0.001} == {}


def test_a_mote_is_odd_only_where_it_does_not_stand_where_the_register_says(rehearsed: Rehearsed) -> None:
    [(astray, bursts, in_place)] = rehearsed.rows(
        """
        select
            (select count(distinct burst) from astray), (select count(*) from fact),
            (
                select count(*) filter (contains(reason, 'odd')) / count(*)
                from reading anti join faulty using (burst, measure) anti join astray using (burst)
            )
        """
    )
    assert 0 < astray < 0.1 * bursts
    assert in_place < 0.0001


def test_a_flush_brings_no_false_crowd(rehearsed: Rehearsed) -> None:
    [(inside, all_day)] = rehearsed.rows(
        f"""
        with felt as (
            select minute.value, world.footsteps, exists(
                from fact
                where is_flushed and fact.mote = minute.mote and fact.received_at >= minute.minute_at
                    and fact.received_at < minute.minute_at + interval '2 minutes'
            ) as is_flush
            from mote_minute as minute
            join '{rehearsed.truth}/world.parquet' as world
                on world.zone = minute.zone and world.minute_at = minute.minute_at
            where minute.measure = 'footsteps' and minute.covered_s >= 30
        )
        select max(value - footsteps) filter (is_flush), max(value - footsteps) filter (not is_flush)
        from felt
        """
    )
    assert inside is not None, "the seed has no flush: choose another"
    assert inside <= all_day


def test_planted_identifiers_never_leave_raw(rehearsed: Rehearsed) -> None:
    planted = _texts(json.loads((rehearsed.truth / "planted.json").read_text()))
    assert len(planted) > 3
    written = [path for path in rehearsed.lake.rglob("*") if path.is_file() and "raw" not in path.parts]
    assert any(path.name == "page.html" for path in written)
    for path in [*written, rehearsed.warehouse]:
        content = path.read_bytes() if path.suffix != ".parquet" else _values(path)
        found = [text for text in planted if text.encode() in content or text in path.name]
        assert found == [], f"{path.name} holds {found}"


def _texts(planted: object) -> set[str]:
    if isinstance(planted, dict):
        return set().union(*(_texts(value) for value in planted.values()))
    if isinstance(planted, list):
        return set().union(*(_texts(value) for value in planted))
    return {str(planted)} if len(str(planted)) >= 8 else set()


def _values(parquet: Path) -> bytes:
    names = duckdb.read_parquet(str(parquet)).columns
    cells = ", ".join(f'"{name}"::varchar' for name in names)
    rows = duckdb.execute(f"select distinct unnest([{cells}]) from '{parquet}'").fetchall()
    return "\n".join(str(value) for (value,) in rows).encode()
