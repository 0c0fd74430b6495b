"""What a run asks of the store: a matter of what is new, not of what is there."""

from collections import Counter
from datetime import UTC, datetime
from typing import Any

import pytest

from motelake.core.manifests import Lines, Manifest, StagedObject
from motelake.core.verdicts import BatchVerdict, Verdict, judging_hash
from motelake.lake.chain import append, read_chain
from motelake.lake.records import JudgedThrough, write_judged, write_verdict
from motelake.steps.check import check
from motelake.steps.run import run
from motelake.steps.stage import stage, staging_inputs


def live_through(fair: Any, batches: int) -> None:
    """Gives the lake a past: as many batches of one object, staged and judged."""
    campaign = fair.campaign
    inputs = staging_inputs(campaign)
    chain = read_chain(fair.lake)
    for number in range(chain.number + 1, batches + 1):
        fair.lake.write(f"raw/{number}.jsonl", b"\n")
        staged = StagedObject(f"raw/{number}.jsonl", 1, None, f"{number:064}", Lines(0, 0, 0))
        made_at = datetime(2031, 5, 9, tzinfo=UTC)
        passed = Verdict(staged.name, staged.sha256, "pass", (), (), ())
        write_verdict(fair.lake, BatchVerdict(f"id{number}", judging_hash(campaign), (passed,)))
        chain = append(
            fair.lake, chain, Manifest(number, f"id{number}", chain.id, made_at, inputs, (staged,), ())
        )
    write_judged(fair.lake, JudgedThrough(judging_hash(campaign), chain.number, chain.id or ""))


@pytest.mark.parametrize("fair", ["memory"], indirect=True)
def test_a_run_asks_the_same_of_ten_batches_and_of_a_thousand(fair: Any, calls: Counter[str]) -> None:
    counts = []
    for past in (10, 1010):
        live_through(fair, past)
        campaign = fair.campaign
        fair.deliver(f"new-{past}.jsonl", fair.line(1))
        calls.clear()
        assert stage(fair.lake, campaign, fair.config, lambda _: None).objects == 1
        assert check(fair.lake, campaign, fair.config, lambda _: None).objects == 1
        counts.append(Counter(calls))
    young, old = counts
    assert old - young == {"cat_file": 1}, "the checkpoint"
    assert young - old == {}
    assert young["find"] == 2, "raw/ and decisions/"


@pytest.mark.parametrize("fair", ["store"], indirect=True)
def test_a_whole_run_asks_the_same_of_a_store_with_ten_manifests_and_with_a_thousand(
    fair: Any, requests: Counter[str]
) -> None:
    """Besides one page of the listing per 1,000 raw objects; the page for people is made once an hour."""
    counts, seq = [], 0
    for past in (10, 1010):
        live_through(fair, past)
        # The first run loads the past; the second is the one of every five minutes.
        for _ in range(2):
            seq += 1
            fair.deliver(f"new-{seq}.jsonl", fair.line(seq))
            requests.clear()
            report = run(fair.lake, fair.campaign, fair.config, lambda _: None)
        assert report.publish.parts_written > 0
        assert not report.needs_attention
        counts.append(Counter(requests))
    young, old = counts
    assert old - young in ({"list_objects_v2": 1}, {"list_objects_v2": 1, "get_object": 1}), "a checkpoint"
    assert young - old == {}
    assert young.total() < 100
