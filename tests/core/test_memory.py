"""What a watch remembers, whatever the portions it comes in."""

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from motelake.core.memory import Hearing, Memory, remember

PERIODS = {"M1": 20.0, "M2": 20.0}


def hear(seq: int, mote: str = "M1", late_s: float = 0.0, boot_s: float = 0.0, name: str = "a-G1") -> Hearing:
    return Hearing(boot_s + 20.0 * seq + late_s, seq, mote, "G1", name)


def recall(*portions: list[Hearing]) -> Memory:
    memory = Memory()
    for number, portion in enumerate(portions):
        lines = {one.object: (len(portion), 0) for one in portion} or {f"empty-{number}": (0, 0)}
        memory = remember(memory, portion, lines, PERIODS, 0.0)
    return memory


@given(st.sets(st.integers(0, 60), min_size=1), st.sets(st.integers(0, 60)), st.data())
def test_portions_do_not_show(some: set[int], others: set[int], data: st.DataObject) -> None:
    hearings = [hear(seq) for seq in some] + [hear(seq, "M2", boot_s=3.0) for seq in others]
    hearings.sort(key=lambda one: one.at)
    cuts = sorted(data.draw(st.lists(st.integers(0, len(hearings)), max_size=4)))
    edges = [0, *cuts, len(hearings)]
    parts = [hearings[start:end] for start, end in pairwise(edges)]
    whole, parted = recall(hearings), recall(*parts)
    assert (parted.motes, parted.gateways, parted.losses) == (whole.motes, whole.gateways, whole.losses)
    assert (parted.began_at, parted.latest_at) == (whole.began_at, whole.latest_at)
    assert sum(one.timed for one in parted.lately) == sum(one.timed for one in whole.lately)


def test_missed_bursts_are_counted_by_their_numbers() -> None:
    losses = recall([hear(0), hear(1), hear(4), hear(5)]).losses
    assert (losses.bursts, losses.runs, losses.carried, losses.ended) == (5, 1, 1, 1)


def test_a_flush_is_late_and_a_restart_is_not() -> None:
    live = [hear(seq) for seq in range(10)]
    flush = [Hearing(2400.0, seq, "M1", "G1", "b-G1") for seq in range(10, 110)]
    after = [hear(seq, name="c-G1") for seq in range(121, 125)]
    restarted = [hear(seq, boot_s=2600.0, name="d-G1") for seq in range(5)]
    late = {one.object: one.late for one in recall(live, flush, after, restarted).lately}
    assert late["b-G1"] >= 95
    assert late["c-G1"] == late["d-G1"] == 0


def test_a_clock_that_goes_slow_is_not_late() -> None:
    hearings = [Hearing(20.0 * (1 + 1e-4) * seq, seq, "M1", "G1", "a-G1") for seq in range(0, 50_000, 50)]
    assert recall(hearings).lately[0].late == 0


def test_what_is_heard_again_later_changes_nothing() -> None:
    hearings = [hear(seq) for seq in range(20)]
    once, twice = recall(hearings), recall(hearings, hearings[:10])
    assert (once.motes, once.losses, once.gateways) == (twice.motes, twice.losses, twice.gateways)


def test_it_is_kept_as_plain_values_without_loss() -> None:
    memory = recall([hear(seq) for seq in (0, 1, 4)], [hear(5, name="b-G1")])
    assert Memory.from_dict(memory.to_dict()) == memory
    assert memory.delivery_s == 20.0
