"""How a campaign is cut into shares."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from motelake.core.campaign import Campaign, read_campaign
from motelake.core.places import resolve_places
from motelake.core.register import Mote, Placement, Zone
from motelake.core.shares import Share, cut_shares, preferred_host

BEGIN = datetime(2031, 5, 9, 5, tzinfo=UTC)
EVER = (datetime(1, 1, 1, tzinfo=UTC), datetime(9999, 1, 1, tzinfo=UTC))


@pytest.fixture(scope="module")
def plain(fair_files: Mapping[str, bytes]) -> Campaign:
    return read_campaign(fair_files)


def campaign_of(
    plain: Campaign, homes: list[str | None], moves: list[tuple[int, int, str | None]]
) -> Campaign:
    """Motes m0, m1, ... at home in these zones, moved at (mote, minute, zone)."""
    motes = tuple(
        Mote(f"m{number}", None, "temperature", "track", zone, None, None, None, None, None, None)
        for number, zone in enumerate(homes)
    )
    placements = tuple(
        Placement(
            f"m{mote % len(homes)}", BEGIN + timedelta(minutes=at), "track", zone, None, None, "moved", None
        )
        for mote, at, zone in moves
    )
    zones = tuple(Zone(name, "track", None, None, None, None, None) for name in "abcd")
    return replace(plain, register=replace(plain.register, motes=motes, zones=zones, placements=placements))


zones = st.sampled_from(["a", "b", "c", "d", None])
homes = st.lists(zones, min_size=1, max_size=12)
moves = st.lists(st.tuples(st.integers(0, 11), st.integers(0, 600), zones), max_size=12)


def spans(share: Share, mote: str) -> list[tuple[datetime, datetime]]:
    return [
        (tenure.from_at or EVER[0], tenure.to_at or EVER[1])
        for tenure in share.tenures
        if tenure.mote == mote
    ]


@given(homes, moves, st.integers(1, 6))
def test_at_any_time_one_share_answers_for_a_mote_and_it_is_the_one_of_its_zone(
    plain: Campaign, homes: list[str | None], moves: list[tuple[int, int, str | None]], size: int
) -> None:
    campaign = campaign_of(plain, homes, moves)
    shares = cut_shares(campaign, size)
    for mote in campaign.register.motes:
        told = sorted(span for share in shares for span in spans(share, mote.mote))
        assert (told[0][0], told[-1][1]) == EVER
        assert all(before[1] == after[0] for before, after in pairwise(told))
    share_of_zone = {zone.zone: share for share in shares for zone in share.campaign.register.zones}
    for place in resolve_places(campaign.register):
        if place.zone is not None:
            own = spans(share_of_zone[place.zone], place.mote)
            from_at, to_at = place.from_at or EVER[0], place.to_at or EVER[1]
            assert any(begin <= from_at and to_at <= end for begin, end in own)


@given(homes, moves, st.integers(1, 6))
def test_a_share_sees_its_own_zones_as_the_campaign_does_and_no_other(
    plain: Campaign, homes: list[str | None], moves: list[tuple[int, int, str | None]], size: int
) -> None:
    campaign = campaign_of(plain, homes, moves)
    whole = [place for place in resolve_places(campaign.register) if place.zone is not None]
    parts = [
        place
        for share in cut_shares(campaign, size)
        for place in resolve_places(share.campaign.register)
        if place.zone is not None
    ]
    assert sorted(map(repr, parts)) == sorted(map(repr, whole))


@given(homes, moves, st.integers(1, 6))
def test_every_mote_is_at_home_once(
    plain: Campaign, homes: list[str | None], moves: list[tuple[int, int, str | None]], size: int
) -> None:
    shares = cut_shares(campaign_of(plain, homes, moves), size)
    assert sorted(mote for share in shares for mote in share.home) == sorted(
        f"m{n}" for n in range(len(homes))
    )
    assert len({share.name for share in shares}) == len(shares)
    assert all(share.home <= set(share.motes) for share in shares)


def test_shares_are_of_even_size_and_a_zone_is_never_cut(plain: Campaign) -> None:
    campaign = campaign_of(plain, [*"aaaaa", *"bb", *"cc", *"d"], [])
    assert sorted(len(share.motes) for share in cut_shares(campaign, 5)) == [5, 5]
    assert len(cut_shares(campaign, 1)) == 4


def test_a_move_changes_only_the_two_shares_it_is_about(plain: Campaign) -> None:
    before = cut_shares(campaign_of(plain, [*"aabbccdd"], []), 2)
    after = cut_shares(campaign_of(plain, [*"aabbccdd"], [(0, 30, "b")]), 2)
    assert [share.name for share in before] == [share.name for share in after]
    assert sum(one != other for one, other in zip(before, after, strict=True)) == 2


def test_a_note_in_the_register_changes_no_share(plain: Campaign) -> None:
    campaign = campaign_of(plain, [*"ab"], [])
    noted = tuple(replace(mote, note="behind the stove", x_m=3.0) for mote in campaign.register.motes)
    amended = replace(campaign, title="Another fair", register=replace(campaign.register, motes=noted))
    assert cut_shares(amended, 1) == cut_shares(campaign, 1)


@given(st.sets(st.text(min_size=1), min_size=2, max_size=6), st.lists(st.text(), max_size=20))
def test_a_host_that_goes_moves_its_own_shares_only(hosts: set[str], shares: list[str]) -> None:
    gone, *others = sorted(hosts)
    for share in shares:
        before = preferred_host(share, hosts)
        assert before == gone or preferred_host(share, others) == before
