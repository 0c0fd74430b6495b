"""A long backlog goes in by several transactions: the same content, also where a load ends between them."""

from random import Random
from typing import Any

import pytest

from motelake.warehouse import load
from motelake.warehouse.derive import is_compared
from motelake.warehouse.parts import changed_hours

Delivered = list[load.Delivery]


def backlog(hall: Any, monkeypatch: pytest.MonkeyPatch) -> Delivered:
    """Four batches of an afternoon in which M1 jumps away alone, delayed and now and then lost."""
    chance = Random(1)
    hearings = [
        hall.heard(
            seq,
            20 * seq + number + chance.expovariate(2.5),
            f"M{number}",
            temperature=20.0 + number + seq % 3 / 10 + (9 if number == 1 and seq >= 200 else 0),
            steps=float(seq % 4),
        )
        for seq in range(400)
        for number in range(1, 5)
        if chance.random() > 0.05
    ]
    deliveries: Delivered = []
    monkeypatch.setattr(hall, "_run", deliveries.extend)
    for first in range(0, len(hearings), 400):
        hall.load(hearings[first : first + 400])
    return deliveries


def run(hall: Any, deliveries: Delivered) -> None:
    load.load_deliveries(hall.engine, hall.campaign, deliveries, hall.said.append, {"lake": "depot"})


@pytest.mark.parametrize(("limit", "at_once"), [("load.LINES_AT_ONCE", 500), ("spans.MINUTES_AT_ONCE", 1)])
def test_a_backlog_in_several_transactions_or_pieces_makes_what_one_makes(
    limit: str, at_once: int, build: Any, hall: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = build(*hall.campaign.register.motes)
    run(whole, backlog(whole, monkeypatch))
    monkeypatch.setattr(f"motelake.warehouse.{limit}", at_once)
    run(hall, backlog(hall, monkeypatch))
    assert hall.rows("select count(*) from reading where reason like '%odd%'")[0] > 0
    for query in ("from work.odd order by all", "from work.mote_hour order by all"):
        assert hall.rows(query) == whole.rows(query)
    assert hall.fingerprint() == whole.fingerprint()


def test_a_load_that_ends_before_motes_are_compared_is_ended_by_the_next(
    build: Any, hall: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    at_once = build(*hall.campaign.register.motes)
    run(at_once, backlog(at_once, monkeypatch))
    deliveries = backlog(hall, monkeypatch)
    monkeypatch.setattr(load, "LINES_AT_ONCE", 500)
    with monkeypatch.context() as broken:
        broken.setattr(load, "compare", interrupt)
        with pytest.raises(KeyboardInterrupt):
            run(hall, deliveries)
    assert hall.rows("select value from work.state where key = 'lake'") == ["depot"]
    assert not is_compared(hall.engine)
    assert changed_hours(hall.engine) == set(), "nothing half made is published"
    run(hall, deliveries)
    assert is_compared(hall.engine)
    assert hall.fingerprint() == at_once.fingerprint()
    assert changed_hours(hall.engine) == changed_hours(at_once.engine)


def interrupt(*_: Any) -> None:
    """The plug is pulled."""
    raise KeyboardInterrupt


@pytest.mark.parametrize("table", ["burst", "reading"])
def test_what_one_load_adds_stands_hour_by_hour_also_of_motes_that_went_on(hall: Any, table: str) -> None:
    motes = [f"M{number}" for number in range(1, 5)]
    readings: dict[str, float] = {"humidity": 50.0, "sound": 40.0, "steps": 1.0}
    for seqs in (range(300), range(300, 900)):
        last = max(hall.rows(f"select rowid from {table}"), default=-1)
        hall.load([one for mote in motes for one in hall.course(seqs, mote=mote, **readings)])
    hours = hall.rows(
        f"select epoch_us(sampled_at) // 3600000000 from {table} where rowid > {last} order by rowid"
    )
    assert len(set(hours)) > 3
    assert hours == sorted(hours)
