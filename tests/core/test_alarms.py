"""Alarms: told once when something begins, once when it ends, whatever comes and goes between."""

from datetime import UTC, datetime, timedelta
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from motelake.core.alarms import Alarm, Condition, judge

NOON = datetime(2031, 5, 9, 12, tzinfo=UTC)
NAMES = ("G1", "G2", "M7")
CALM_LOOKS = 5


def wrong(name: str) -> Condition:
    return Condition("gateway", name, NOON, f"{name} is silent")


def look(looks: list[set[str]]) -> list[list[Alarm]]:
    """What is told at each of several looks, a minute apart, at which these were wrong."""
    told: list[list[Alarm]] = []
    for minute, names in enumerate(looks):
        before = told[-1] if told else []
        now = NOON + timedelta(minutes=minute)
        told.append(judge(before, [wrong(name) for name in sorted(names)], now, calm_s=60 * CALM_LOOKS))
    return told


LOOKS = st.lists(st.sets(st.sampled_from(NAMES)), max_size=40)


@given(LOOKS)
def test_each_alarm_opens_stays_and_closes_in_turn(looks: list[set[str]]) -> None:
    told = look(looks)
    for name in NAMES:
        states = [alarm.state for alarms in told for alarm in alarms if alarm.subject == name]
        for before, after in zip(["closed", *states], states, strict=False):
            assert (after == "open") == (before == "closed")


@given(LOOKS)
def test_what_is_wrong_always_stands_and_never_closes(looks: list[set[str]]) -> None:
    for names, alarms in zip(looks, look(looks), strict=True):
        assert names <= {alarm.subject for alarm in alarms if alarm.stands}
        assert all(alarm.gone_at is None for alarm in alarms if alarm.subject in names)


@given(LOOKS)
def test_what_comes_and_goes_within_the_calm_is_one_alarm(looks: list[set[str]]) -> None:
    """Between two openings of one alarm it was gone for the whole calm time."""
    told = look(looks)
    for name in NAMES:
        opened = [
            minute
            for minute, alarms in enumerate(told)
            for alarm in alarms
            if alarm.subject == name and alarm.state == "open"
        ]
        for first, second in pairwise(opened):
            last_wrong = max(minute for minute in range(first, second) if name in looks[minute])
            assert second - last_wrong > CALM_LOOKS


@given(LOOKS)
def test_an_alarm_that_closed_is_told_no_more(looks: list[set[str]]) -> None:
    told = look(looks)
    for alarms, later in pairwise(told):
        closed = {alarm.key for alarm in alarms if alarm.state == "closed"}
        assert not closed & {alarm.key for alarm in later if alarm.state != "open"}


@given(LOOKS)
def test_alarms_are_kept_as_json_without_loss(looks: list[set[str]]) -> None:
    for alarms in look(looks):
        assert [Alarm.from_dict(alarm.to_dict()) for alarm in alarms] == alarms
