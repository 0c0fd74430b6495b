from datetime import UTC, datetime, timedelta
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from motelake.core.places import MotePlace, resolve_places
from motelake.core.register import Mote, Placement, Register, Zone

_ZONES = (
    Zone("wheel_pit", "pit", None, None, None, None, None),
    Zone("hall", "track", None, None, None, None, None),
    Zone("balcony", "gallery", None, None, None, None, None),
)
_LEVELS = {zone.zone: zone.level for zone in _ZONES}


def at(hour: float) -> datetime:
    return datetime(2031, 5, 9, tzinfo=UTC) + timedelta(hours=hour)


def mote(zone: str | None, installed_at: datetime | None = None, removed_at: datetime | None = None) -> Mote:
    return Mote("M1", None, "sound", None, zone, None, None, None, installed_at, removed_at, None)


def row(hour: float, how: str, zone: str | None = None) -> Placement:
    return Placement("M1", at(hour), None, zone, None, None, how, None)


def places(one: Mote, *rows: Placement) -> list[tuple[datetime | None, datetime | None, str | None]]:
    resolved = resolve_places(Register((one,), (), _ZONES, (), rows))
    assert all(place.level == _LEVELS.get(place.zone or "") for place in resolved)
    return [(place.from_at, place.to_at, place.zone) for place in resolved]


def test_motes_csv_places_a_mote_that_has_no_placements() -> None:
    assert places(mote("hall")) == [(None, None, "hall")]


def test_motes_csv_holds_until_the_first_placement() -> None:
    assert places(mote("hall"), row(9, "moved", "balcony")) == [
        (None, at(9), "hall"),
        (at(9), None, "balcony"),
    ]


def test_the_latest_placement_wins_whatever_the_order_of_the_rows() -> None:
    assert places(mote("hall"), row(12, "moved", "wheel_pit"), row(9, "moved", "balcony")) == [
        (None, at(9), "hall"),
        (at(9), at(12), "balcony"),
        (at(12), None, "wheel_pit"),
    ]


def test_of_two_rows_of_one_time_the_later_row_wins() -> None:
    assert places(mote(None), row(9, "moved", "balcony"), row(9, "moved", "hall"))[-1] == (
        at(9),
        None,
        "hall",
    )


def test_a_plan_holds_until_something_was_seen_and_never_after() -> None:
    rows = row(8, "planned", "balcony"), row(9, "installed", "hall"), row(10, "planned", "wheel_pit")
    assert places(mote(None), *rows) == [
        (None, at(8), None),
        (at(8), at(9), "balcony"),
        (at(9), None, "hall"),
    ]


def test_a_plan_of_the_same_time_does_not_override_what_was_seen() -> None:
    assert places(mote(None), row(9, "installed", "hall"), row(9, "planned", "balcony"))[-1][2] == "hall"


def test_a_mote_that_was_removed_or_found_is_in_no_zone_until_it_is_installed_again() -> None:
    rows = row(9, "removed", "hall"), row(10, "found", "balcony"), row(11, "installed", "balcony")
    assert places(mote("hall"), *rows) == [
        (None, at(9), "hall"),
        (at(9), at(10), None),
        (at(10), at(11), None),
        (at(11), None, "balcony"),
    ]


def test_nothing_is_said_outside_installed_at_and_removed_at() -> None:
    rows = row(7, "moved", "balcony"), row(9, "moved", "wheel_pit"), row(13, "moved", "hall")
    assert places(mote("hall", at(8), at(12)), *rows) == [
        (at(8), at(9), "balcony"),
        (at(9), at(12), "wheel_pit"),
    ]


def test_a_move_within_a_zone_begins_a_new_place() -> None:
    assert len(places(mote("hall"), row(9, "moved", "hall"))) == 2


def test_a_level_is_kept_where_only_the_level_is_known() -> None:
    one = Mote("M1", None, "sound", "roof", None, None, None, None, None, None, None)
    assert resolve_places(Register((one,), (), _ZONES, (), ())) == [MotePlace("M1", None, None, None, "roof")]


_hours = st.integers(min_value=0, max_value=12)
_names = st.sampled_from(["wheel_pit", "hall", "balcony", None])
_rows = st.builds(row, _hours, st.sampled_from(["planned", "installed", "moved", "removed", "found"]), _names)
_bounds = st.tuples(st.none() | _hours, st.none() | _hours)


def zone_by_the_words_of_the_rule(one: Mote, rows: list[Placement], when: datetime) -> str | None:
    begun = [placement for placement in rows if placement.from_at <= when]
    seen = [placement for placement in begun if placement.how != "planned"]
    if not begun:
        return one.zone
    candidates = seen or begun
    latest = max(candidate.from_at for candidate in candidates)
    winner = [candidate for candidate in candidates if candidate.from_at == latest][-1]
    return None if winner.how in ("removed", "found") else winner.zone


@given(_names, _bounds, st.lists(_rows, max_size=6))
def test_at_every_time_one_place_holds_and_it_is_that_of_the_rule(
    zone: str | None, bounds: tuple[int | None, int | None], rows: list[Placement]
) -> None:
    installed_at, removed_at = (None if hour is None else at(hour) for hour in bounds)
    one = mote(zone, installed_at, removed_at)
    resolved = places(one, *rows)
    for half_hour in range(-2, 28):
        when = at(half_hour / 2)
        holding = [
            zone
            for from_at, to_at, zone in resolved
            if (from_at is None or from_at <= when) and (to_at is None or when < to_at)
        ]
        is_there = (installed_at is None or installed_at <= when) and (
            removed_at is None or when < removed_at
        )
        assert holding == ([zone_by_the_words_of_the_rule(one, rows, when)] if is_there else [])


@given(_names, _bounds, st.lists(_rows, max_size=6))
def test_places_are_in_order_and_touch(
    zone: str | None, bounds: tuple[int | None, int | None], rows: list[Placement]
) -> None:
    installed_at, removed_at = (None if hour is None else at(hour) for hour in bounds)
    resolved = places(mote(zone, installed_at, removed_at), *rows)
    assert all(from_at is None or to_at is None or from_at < to_at for from_at, to_at, _ in resolved)
    assert all(one[1] == following[0] for one, following in pairwise(resolved))
