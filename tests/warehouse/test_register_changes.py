"""What the register says later holds as if it had said so from the start."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest

MOTES = ("M1", "M2", "M3", "M4")


def hearings(hall: Any) -> list[dict[str, Any]]:
    return [
        hall.heard(
            seq,
            20 * seq + turn,
            mote,
            temperature=20.0 + (9 if seq == 30 else 0) + seq // 40,
            sound=40.0 + seq % 5,
            steps=float(seq % 4),
        )
        for seq in range(100)
        for turn, mote in enumerate(MOTES)
    ]


def measures(build: Any, **changes: Any) -> tuple[Any, ...]:
    return tuple(
        build.measure("temperature", **changes) if one.measure == "temperature" else one
        for one in build.measures
    )


CHANGES: dict[str, Callable[[Any], dict[str, Any]]] = {
    "a span was corrected": lambda build: {"measures": measures(build, span_high=25)},
    "a step was corrected": lambda build: {"measures": measures(build, max_step=1)},
    "a flat time was set": lambda build: {"measures": measures(build, flat_after_min=5)},
    "a kind was corrected": lambda build: {
        "measures": tuple(
            build.measure("sound", "level") if one.measure == "sound" else one for one in build.measures
        )
    },
    "a measure was removed": lambda build: {
        "measures": tuple(one for one in build.measures if one.measure != "sound")
    },
    "a mote was moved": lambda build: {"placements": (build.placement("M2", 900, "pit"),)},
    "a mote was found": lambda build: {"placements": (build.placement("M2", 900, None, "found"),)},
    "a mote was removed from the register": lambda build: {
        "motes": tuple(build.mote(mote) for mote in MOTES[:3])
    },
    "a mote stands elsewhere": lambda build: {
        "motes": (build.mote("M1", "pit"), *(build.mote(mote) for mote in MOTES[1:]))
    },
    "a mote keeps another time": lambda build: {
        "motes": (build.mote("M1", burst_period_s=20.5), *(build.mote(mote) for mote in MOTES[1:]))
    },
    "another zone was added": lambda build: {
        "zones": (*build(build.mote("M1")).campaign.register.zones[:1],)
    },
    "the drift was corrected": lambda build: {"drift_ppm": 500.0},
}


@pytest.mark.parametrize("change", CHANGES)
def test_a_register_corrected_later_gives_what_it_would_have_given_at_first(build: Any, change: str) -> None:
    later, at_first = (build(*(build.mote(mote) for mote in MOTES)) for _ in range(2))
    changes = CHANGES[change](build)
    names = {mote.mote for mote in changes.get("motes", later.campaign.register.motes)}
    if "zones" in changes:
        # The zone without motes left; a register may drop it.
        assert len(changes["zones"]) == 1
    later.load(hearings(later))
    before = later.fingerprint()
    later.amend(**changes)
    at_first.amend(**CHANGES[change](build))
    at_first.load([hearing for hearing in hearings(at_first) if hearing["mote"] in names])
    assert later.fingerprint() == at_first.fingerprint()
    assert later.fingerprint() != before


def test_a_measure_that_is_named_later_has_its_column_and_no_readings_yet(build: Any) -> None:
    hall = build(build.mote("M1"))
    hall.load(hearings(hall)[:20])
    hall.amend(measures=(*build.measures, build.measure("light")))
    hall.load([hall.heard(200, 4000, light=50.0)])
    assert hall.rows("select value from reading where measure = 'light'") == [50.0]


def test_hours_that_become_empty_are_published_again(build: Any) -> None:
    hall = build(build.mote("M1"), build.mote("M2"))
    hall.load([hall.heard(seq, 20 * seq, "M1", temperature=1.0) for seq in range(9)])
    hall.load([hall.heard(seq, 7200 + 20 * seq, "M2", temperature=1.0) for seq in range(9)])
    hall.engine.execute("delete from work.dirty_hour")
    hall.amend(motes=(build.mote("M1"),))
    assert hall.rows("select count(*) from zone_minute where minute_at >= '2031-05-09 11:00:00+00'") == [0]
    assert 11 in hall.rows("select hour(hour_at) from work.dirty_hour")


def test_places_outside_the_campaign_are_clipped_or_dropped(build: Any) -> None:
    """A register may speak of weeks before and after; each place stays a time span that is not empty."""
    at = build(build.mote("M1")).campaign
    week = timedelta(days=7)
    hall = build(
        build.mote("M1", installed_at=at.starts_at - week, removed_at=at.starts_at - 0.5 * week),
        build.mote("M2", installed_at=at.ends_at + week),
        build.mote("M3", installed_at=at.starts_at - week, removed_at=at.ends_at + week),
        build.mote("M4"),
        placements=[
            build.placement("M4", -week.total_seconds(), "pit", "installed"),
            build.placement("M4", -0.5 * week.total_seconds(), "hall"),
            build.placement("M4", week.total_seconds(), "pit"),
        ],
    )
    hall.load([hall.heard(0, 0, "M4", temperature=1.0)])
    places = hall.rows("select mote, from_at, to_at, zone from mote_place order by mote, from_at")
    assert [(mote, zone) for mote, _, _, zone in places] == [("M3", "hall"), ("M4", "hall")]
    assert all(from_at < to_at for _, from_at, to_at, _ in places)
