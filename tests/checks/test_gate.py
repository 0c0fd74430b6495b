"""The gate: what holds a raw object, what only warns, and the words for it."""

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from motelake.checks.expectations import expectations, find
from motelake.checks.judge import judge
from motelake.checks.profile import MeasureProfile, ObjectProfile
from motelake.core.campaign import Campaign, Limits, read_campaign
from motelake.core.manifests import Lines, StagedObject
from motelake.core.verdicts import BatchVerdict, Verdict, home_gateways, judging_hash
from motelake.errors import InputError


@pytest.fixture(scope="module")
def campaign(fair_files: dict[str, bytes]) -> Campaign:
    return read_campaign(fair_files)


def profile(
    read: int = 100, rejected: dict[str, int] | None = None, name: str = "raw/a", **seen: Any
) -> ObjectProfile:
    lost = sum((rejected or {}).values())
    refused = seen.pop("refused", None)
    lines = Lines(read, read - lost, lost)
    staged = StagedObject(name, 1, None, "ab" * 32, lines, rejected or {}, refused=refused)
    return ObjectProfile(staged, **seen)


def verdict_on(one: ObjectProfile, campaign: Campaign) -> Verdict:
    return judge([one], campaign)[0]


def test_a_sound_object_passes_without_a_word(campaign: Campaign) -> None:
    verdict = verdict_on(profile(), campaign)
    assert (verdict.state, verdict.reasons, verdict.warnings) == ("pass", (), ())
    assert all(finding.success for finding in verdict.expectations)


@pytest.mark.parametrize(
    ("seen", "sentence"),
    [
        (
            {"read": 412, "rejected": {"not_json": 100, "no_mote": 28}},
            "31 % of 412 lines were rejected (limit 20 %), mostly not_json",
        ),
        (
            {"read": 1000, "rejected": {"no_received_at": 1000}},
            "100 % of 1,000 lines were rejected (limit 20 %), all no_received_at",
        ),
        (
            {"read": 1000, "rejected": {"not_json": 201}},
            "20.1 % of 1,000 lines were rejected (limit 20 %), all not_json",
        ),
        (
            {"read": 100, "rejected": {"unknown_mote": 30, "not_json": 20}},
            "30 % of 100 lines are from motes that the register does not name (limit 20 %): "
            "add them to register/motes.csv and they come in by themselves",
        ),
        (
            {"read": 100, "rejected": {"outside_campaign": 30}},
            "30 % of 100 lines were received outside the campaign (limit 20 %): "
            "check starts_at and ends_at in campaign.toml and the collector's clock",
        ),
        (
            {"measures": (MeasureProfile("temperature", 200, 100, 20.5, 451.0),)},
            "50 % of 200 readings of temperature are outside -40..85 Cel (limit 20 %), from 20.5 to 451: "
            "check the sensors' unit and the span in register/measures.csv",
        ),
        (
            {"measures": (MeasureProfile("sound", 200, 100, -80.0, 60.0),)},
            "50 % of 200 readings of sound are outside 30.. dB (limit 20 %), from -80 to 60: "
            "check the sensors' unit and the span in register/measures.csv",
        ),
        (
            {"read": 30, "rejected": {"truncated": 1}},
            "it breaks off in its compressed data after 29 lines: deliver it whole under another name "
            "and discard this one, or admit what could be read",
        ),
        ({"read": 0, "refused": "raw/a was refused: too large"}, "raw/a was refused: too large"),
    ],
)
def test_an_object_is_held_with_a_reason_that_a_person_can_read(
    seen: dict[str, Any], sentence: str, campaign: Campaign
) -> None:
    verdict = verdict_on(profile(**seen), campaign)
    assert verdict.state == "hold"
    assert verdict.reasons == (sentence,)


def test_several_causes_are_all_told(campaign: Campaign) -> None:
    rejected = {"unknown_mote": 30, "not_json": 30}
    reasons = verdict_on(profile(100, rejected), campaign).reasons
    assert [reason[:21] for reason in reasons] == ["30 % of 100 lines are", "60 % of 100 lines wer"]


@pytest.mark.parametrize("reason", ["not_json", "unknown_mote", "outside_campaign"])
def test_shares_count_from_fifty_lines_up(reason: str, campaign: Campaign) -> None:
    assert verdict_on(profile(49, {reason: 48}), campaign).state == "pass"
    assert verdict_on(profile(50, {reason: 48}), campaign).state == "hold"


def test_a_share_at_its_limit_passes(campaign: Campaign) -> None:
    assert verdict_on(profile(100, {"not_json": 20}), campaign).state == "pass"


def test_few_readings_outside_their_span_do_not_hold(campaign: Campaign) -> None:
    measures = (MeasureProfile("temperature", 49, 49, 451.0, 451.0),)
    assert verdict_on(profile(measures=measures), campaign).state == "pass"


@pytest.mark.parametrize(
    ("seen", "warning"),
    [
        (
            {"motes": 15, "bursts_heard": 1680, "bursts_expected": 2678},
            "63 % of the 2,678 bursts that its 15 motes sent between their first and last are in it",
        ),
        ({"read": 0}, "it holds no lines"),
        (
            {"read": 3, "rejected": {"no_mote": 2, "not_json": 1}},
            "nothing came of its 3 lines, mostly no_mote",
        ),
    ],
)
def test_a_warning_holds_nothing(seen: dict[str, Any], warning: str, campaign: Campaign) -> None:
    verdict = verdict_on(profile(**seen), campaign)
    assert (verdict.state, verdict.warnings) == ("pass", (warning,))


def test_a_verdict_does_not_depend_on_what_is_judged_beside_it(campaign: Campaign) -> None:
    sound, broken = profile(name="raw/a"), profile(100, {"not_json": 90}, name="raw/b")
    together = judge([sound, broken, sound], campaign)
    assert together == [*judge([sound], campaign), *judge([broken], campaign), *judge([sound], campaign)]


@settings(max_examples=20, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 200), st.integers(0, 200)), min_size=1, max_size=30))
def test_the_library_judges_as_plain_arithmetic_does(counts: list[tuple[int, int]]) -> None:
    limits = Limits()
    profiles = [profile(max(pair), {"not_json": min(pair)}) for pair in counts]
    for one, findings in zip(profiles, find(profiles, expectations(limits)), strict=True):
        lines = one.staged.lines
        is_over = lines.read >= 50 and lines.rejected / lines.read > limits.reject_share
        assert {finding.name for finding in findings if not finding.success} == (
            {"reject_share"} if is_over else set()
        )


def test_a_limit_of_the_campaign_is_the_limit_of_the_gate(campaign: Campaign) -> None:
    strict = replace(campaign, limits=replace(campaign.limits, reject_share=0.01))
    assert verdict_on(profile(100, {"not_json": 2}), strict).state == "hold"
    assert judging_hash(strict) != judging_hash(campaign)


def test_the_title_of_a_campaign_is_no_reason_to_judge_again(campaign: Campaign) -> None:
    assert judging_hash(replace(campaign, title="Another Fair")) == judging_hash(campaign)


def test_a_mote_is_expected_by_the_only_gateway_of_its_network(campaign: Campaign) -> None:
    register = campaign.register
    assert home_gateways(register) == {"M1": "G1", "M2": "G1"}
    second = replace(register.gateways[0], gateway="G2")
    assert home_gateways(replace(register, gateways=(*register.gateways, second))) == {}


def test_verdicts_come_back_from_their_file(campaign: Campaign) -> None:
    verdicts = BatchVerdict("id", "hash", tuple(judge([profile(), profile(100, {"not_json": 90})], campaign)))
    assert BatchVerdict.from_json(verdicts.to_json(), "x") == verdicts


@pytest.mark.parametrize("data", [b"", b"{}", b'{"objects": [{}]}'])
def test_a_damaged_verdict_is_named(data: bytes) -> None:
    with pytest.raises(InputError, match=r"validation/x\.json"):
        BatchVerdict.from_json(data, "validation/x.json")
