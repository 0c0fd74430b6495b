"""The gate as a step: verdicts in the lake, made once, made again only where they could differ."""

import json
from typing import Any

import pytest

from motelake.checks.judge import judge
from motelake.core.verdicts import BatchVerdict, Verdict, verdict_name
from motelake.lake.chain import read_manifests
from motelake.lake.records import read_verdicts, write_verdict
from motelake.steps import check as check_step
from motelake.steps.check import CheckReport, check
from motelake.steps.decide import decide
from motelake.steps.stage import stage


def run(fair: Any, said: list[str] | None = None) -> CheckReport:
    campaign = fair.campaign
    stage(fair.lake, campaign, fair.config, lambda _: None)
    return check(fair.lake, campaign, fair.config, (said if said is not None else []).append)


def verdicts(fair: Any) -> dict[str, Verdict]:
    manifests = read_manifests(fair.lake)
    found = read_verdicts(fair.lake, [manifest.id for manifest in manifests])
    return {one.object: one for manifest in manifests for one in found[manifest.id].objects}


def test_a_sound_object_passes_and_a_broken_one_is_held(fair: Any) -> None:
    fair.deliver("good.jsonl", *(fair.line(seq) for seq in range(60)))
    fair.deliver("bad.jsonl", *(fair.line(seq) if seq < 40 else "{" for seq in range(60)))
    said: list[str] = []
    report = run(fair, said)
    assert report.needs_attention
    assert {name: one.state for name, one in verdicts(fair).items()} == {
        "raw/bad.jsonl": "hold",
        "raw/good.jsonl": "pass",
    }
    assert said[0] == "Held: raw/bad.jsonl: 33 % of 60 lines were rejected (limit 20 %), all not_json."


def test_readings_far_outside_their_span_hold_an_object(fair: Any) -> None:
    in_fahrenheit = [fair.line(seq, readings={"temperature": 70.5 + seq, "sound": 20}) for seq in range(60)]
    fair.deliver("a.jsonl", *in_fahrenheit)
    (held,) = run(fair).held
    assert held.reasons == (
        "100 % of 60 readings of sound are outside 30.. dB (limit 20 %), from 20 to 20: "
        "check the sensors' unit and the span in register/measures.csv",
    )


def test_lost_bursts_are_told_and_hold_nothing(fair: Any) -> None:
    fair.deliver("a.jsonl", *(fair.line(seq) for seq in range(300) if seq % 2 == 0 or seq == 299))
    report = run(fair)
    assert not report.needs_attention
    assert report.warned[0].warnings == (
        "50 % of the 300 bursts that its 1 motes sent between their first and last are in it",
    )


def test_bursts_overheard_by_another_gateway_are_not_expected_of_it(fair: Any) -> None:
    fair.amend("register/gateways.csv", "G1,north", "G2,south,track,hall,,,on the shelf,\nG1,north")
    fair.deliver("a.jsonl", *(fair.line(seq, gateway="G2") for seq in range(0, 3000, 40)))
    assert run(fair).warned == ()


def test_nothing_is_judged_twice(fair: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    fair.deliver("a.jsonl", fair.line(1))
    run(fair)

    def never(*_arguments: Any) -> None:
        raise AssertionError("judged again")

    monkeypatch.setattr(check_step, "judge", never)
    assert run(fair) == CheckReport(0, 0, (), ())


def test_a_new_limit_is_a_new_verdict_and_a_new_title_is_none(fair: Any) -> None:
    fair.deliver("a.jsonl", *(fair.line(seq) if seq < 50 else "{" for seq in range(60)))
    assert run(fair).held == ()
    fair.amend("campaign.toml", "Depot Fair", "The Depot Fair")
    assert run(fair).objects == 0
    fair.amend("campaign.toml", "[levels]", "[limits]\nreject_share = 0.1\n[levels]")
    assert [one.object for one in run(fair).held] == ["raw/a.jsonl"]


def test_a_chain_that_was_begun_again_is_judged_again(fair: Any) -> None:
    for seq in (1, 2):
        fair.deliver(f"{seq}.jsonl", fair.line(seq))
        run(fair)
    for info in fair.lake.list("manifests"):
        fair.lake.remove(info.name)
    fair.deliver("3.jsonl", fair.line(3))
    assert run(fair).objects == 3
    assert set(verdicts(fair)) == {f"raw/{seq}.jsonl" for seq in (1, 2, 3)}


def test_a_new_span_is_a_new_verdict(fair: Any) -> None:
    fair.deliver("a.jsonl", *(fair.line(seq) for seq in range(60)))
    assert run(fair).held == ()
    fair.amend("register/measures.csv", "-40,85", "-40,20")
    assert [one.object for one in run(fair).held] == ["raw/a.jsonl"]


def test_a_check_goes_on_where_it_was_stopped(fair: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("a", "b"):
        fair.deliver(f"{name}.jsonl", fair.line(1))
        stage(fair.lake, fair.campaign, fair.config, lambda _: None)
    written: list[BatchVerdict] = []

    def write_one(lake: Any, verdict: Any) -> None:
        if written:
            raise KeyboardInterrupt
        written.append(verdict)
        write_verdict(lake, verdict)

    monkeypatch.setattr(check_step, "write_verdict", write_one)
    with pytest.raises(KeyboardInterrupt):
        run(fair)
    monkeypatch.undo()
    judged: list[int] = []

    def judge_and_count(profiles: Any, campaign: Any) -> list[Verdict]:
        judged.append(len(profiles))
        return judge(profiles, campaign)

    monkeypatch.setattr(check_step, "judge", judge_and_count)
    assert run(fair).objects == 2
    assert judged == [1]


def test_a_decided_object_is_no_longer_reported_as_held(fair: Any) -> None:
    fair.deliver("bad.jsonl", *["{"] * 60)
    assert len(run(fair).held) == 1
    decide(fair.lake, "bad.jsonl", "admit", lambda _: None)
    fair.amend("campaign.toml", "[levels]", "[limits]\nreject_share = 0.1\n[levels]")
    assert run(fair).held == ()
    assert verdicts(fair)["raw/bad.jsonl"].state == "hold"


def test_of_hundreds_with_one_cause_a_few_are_told(fair: Any) -> None:
    for number in range(10):
        fair.deliver(f"{number}.jsonl", *["{"] * 60)
    said: list[str] = []
    assert len(run(fair, said).held) == 10
    assert len(said) <= 9
    assert "Held: 7 more raw objects; 'motelake status' names them all." in said


def test_a_verdict_holds_no_text_of_what_was_delivered(fair: Any) -> None:
    """A planted identifier, as a field, a value, a mote's name and a damaged line."""
    planted = "aa:bb:cc:dd:ee:ff"
    lines = [fair.line(seq, planted_name=planted) for seq in range(60)]
    lines += [fair.line(seq, planted) for seq in range(60)] + ['{"phone": "' + planted] * 60
    fair.deliver("a.jsonl", *lines)
    run(fair)
    (manifest,) = read_manifests(fair.lake)
    for name in (verdict_name(manifest.id), "manifests/00000001.json", manifest.rejects, *manifest.staged):
        assert planted.encode() not in fair.lake.read(name)


def test_a_verdict_does_not_depend_on_batches(fair: Any) -> None:
    for number, broken in enumerate((0, 5, 15, 30, 60)):
        fair.deliver(f"{number}.jsonl", *(fair.line(seq) if seq >= broken else "{" for seq in range(60)))
    run(fair)
    together = verdicts(fair)
    for folder in ("manifests", "staged", "rejects", "validation"):
        for info in fair.lake.list(folder):
            fair.lake.remove(info.name)
    fair.amend("campaign.toml", "[levels]", "[limits]\nbatch_objects = 2\n[levels]")
    run(fair)
    assert len(read_manifests(fair.lake)) == 3
    assert verdicts(fair) == together


def test_a_verdict_can_be_read_by_a_person(fair: Any) -> None:
    fair.deliver("bad.jsonl", *["{"] * 60)
    run(fair)
    (manifest,) = read_manifests(fair.lake)
    record = json.loads(fair.lake.read(verdict_name(manifest.id)))
    (verdict,) = record["objects"]
    assert (verdict["object"], verdict["state"]) == ("raw/bad.jsonl", "hold")
    unmet = [one for one in verdict["expectations"] if not one["success"]]
    assert unmet == [{"limit": 0.2, "name": "reject_share", "observed": 1.0, "success": False}]
