"""What the truth says of the lines is what the lines say."""

import json
from collections import Counter
from pathlib import Path

import pandas as pd

from motelake.core.reasons import LineReason
from motelake.rehearsal import Report
from motelake.rehearsal.damage import KINDS, REASONS, edit

LINE = (
    b'{"gateway":"G01","mote":"M0001","seq":7,"received_at":"2031-05-09T07:00:03.412Z",'
    b'"readings":{"sound":58.5}}'
)


def test_lines_are_counted(fair: Report, lines: pd.DataFrame) -> None:
    objects = pd.read_csv(fair.truth / "objects.csv")
    assert len(lines) == fair.lines == objects["lines"].sum()
    assert len(objects) == fair.objects == lines["object"].nunique()


def test_every_hearing_of_the_truth_is_a_line(fair: Report, heard: pd.DataFrame) -> None:
    bursts = pd.read_parquet(fair.truth / "bursts.parquet")
    motes = pd.read_csv(fair.truth / "motes.csv")
    bursts = bursts[bursts["mote"].isin(motes.loc[motes["is_registered"], "mote"])]
    again = heard["object"].str.contains("-again")
    told = heard[~again].groupby("mote").size()
    assert told.to_dict() == bursts.groupby("mote")["hearings"].sum().to_dict()


def test_no_line_arrives_before_its_burst_was_sampled(fair: Report, heard: pd.DataFrame) -> None:
    bursts = pd.read_parquet(fair.truth / "bursts.parquet")
    first = bursts.groupby(["mote", "seq"])["sampled_at"].min().reset_index()
    both = heard.merge(first, on=["mote", "seq"])
    assert len(both) == len(heard)
    assert ((both["received_at"] - both["sampled_at"]).dt.total_seconds() > -0.001).all()


def test_objects_hold_what_arrived_in_their_interval(heard: pd.DataFrame) -> None:
    whole = heard[~heard["object"].str.contains("-again")]
    hour = whole["received_at"].dt.strftime("raw/%Y-%m-%d/%H00-") + whole["gateway"] + ".jsonl.gz"
    assert (hour == whole["object"]).all()
    assert whole.groupby("object")["received_at"].is_monotonic_increasing.all()


def test_reasons_are_those_of_the_closed_list(fair: Report) -> None:
    reasons = set(pd.read_parquet(fair.truth / "rejects.parquet")["reason"])
    assert (
        {"not_json", "unknown_mote", "no_received_at"} <= reasons <= {reason.value for reason in LineReason}
    )


def test_damage_changes_a_line_in_one_way_only() -> None:
    changed = {kind: edit(LINE, kind, 12_345).line for kind in KINDS[1:]}
    assert len(set(changed.values())) == len(changed)
    assert LINE not in changed.values()
    assert all(b"\n" not in line for line in changed.values())


def test_a_line_that_is_no_json_fails_to_parse() -> None:
    for kind in [kind for kind, reason in REASONS.items() if reason == "not_json"]:
        for salt in range(300):
            line = edit(LINE, kind, salt * 7919).line
            try:
                json.loads(line)
            except ValueError:
                continue
            raise AssertionError(line)


def test_one_object_is_clearly_bad_and_all_others_pass(fair: Report) -> None:
    objects = pd.read_csv(fair.truth / "objects.csv")
    rejected = Counter(pd.read_parquet(fair.truth / "rejects.parquet")["object"])
    share = objects["object"].map(rejected).fillna(0) / objects["lines"]
    is_judged = objects["lines"] >= 50
    assert (share[is_judged] > 0.25).sum() == 1
    assert share[is_judged].sort_values().iloc[-2] < 0.15


def test_planted_identifiers_are_in_raw_and_nowhere_else(fair: Report, lines: pd.DataFrame) -> None:
    planted = json.loads((fair.truth / "planted.json").read_text())
    text = b"\n".join(lines["text"])
    assert len(planted) > 10
    assert all(badge.encode() in text for badge in planted)
    others = [path for path in fair.lake.rglob("*") if path.is_file() and "raw" not in path.parts]
    assert others
    assert not any(b"BADGE" in path.read_bytes() for path in others)


def test_the_forgotten_mote_is_heard_but_not_registered(fair: Report, lines: pd.DataFrame) -> None:
    missing = pd.read_csv(fair.truth / "unregistered_motes.csv")
    motes = fair.lake / "register" / "motes.csv"
    assert list(missing.columns) == list(pd.read_csv(motes).columns)
    name = str(missing["mote"].tolist()[0])
    assert f"{name}," not in Path(motes).read_text()
    assert sum(f'"mote":"{name}"'.encode() in text for text in lines["text"]) > 500
