import hashlib
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from motelake.core.campaign import Campaign, read_campaign
from motelake.errors import InputError
from motelake.rehearsal import Faults, Plan, rehearse
from motelake.rehearsal.plan import SCENES

SMALL = Plan(motes=9, days=1, burst_period_s=120)


def bytes_of(folder: Path) -> dict[str, str]:
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def read_lake(folder: Path) -> Campaign:
    parts = ("register", "programme", "context")
    names = [
        "campaign.toml",
        *(f"{part}/{path.name}" for part in parts for path in (folder / part).iterdir()),
    ]
    return read_campaign({name: (folder / name).read_bytes() for name in names})


def test_the_same_plan_gives_the_same_bytes(tmp_path: Path) -> None:
    first, second = rehearse(tmp_path / "a", plan=SMALL), rehearse(tmp_path / "b", plan=SMALL)
    assert bytes_of(first.lake) == bytes_of(second.lake)
    assert bytes_of(first.truth) == bytes_of(second.truth)


def test_another_seed_gives_other_bursts(tmp_path: Path) -> None:
    first = rehearse(tmp_path / "a", plan=SMALL)
    second = rehearse(tmp_path / "b", plan=replace(SMALL, seed=2))
    assert bytes_of(first.lake / "raw") != bytes_of(second.lake / "raw")


def test_objects_carry_no_time_of_their_making(tmp_path: Path) -> None:
    report = rehearse(tmp_path / "lake", plan=SMALL)
    for path in (report.lake / "raw").rglob("*.gz"):
        assert path.read_bytes()[4:8] == bytes(4)  # MTIME of the header, RFC 1952


@pytest.mark.parametrize("scene", SCENES)
@pytest.mark.parametrize("motes", [1, 3, 12, 60])
def test_the_campaign_is_read_without_complaint(tmp_path: Path, scene: str, motes: int) -> None:
    report = rehearse(tmp_path / "lake", plan=replace(SMALL, scene=scene, motes=motes, days=2))
    campaign = read_lake(report.lake)
    assert len(campaign.register.motes) == motes
    assert campaign.ends_at - campaign.starts_at == 2 * (datetime(2031, 5, 10) - datetime(2031, 5, 9))


def test_part_of_a_lake_holds_what_the_whole_lake_holds(tmp_path: Path) -> None:
    plan = replace(SMALL, delivery_min=5, faults=Faults(gateway_flushes=3))
    whole = rehearse(tmp_path / "whole", plan=plan)
    begin, end = datetime(2031, 5, 9, 11, tzinfo=UTC), datetime(2031, 5, 9, 15, tzinfo=UTC)
    part = rehearse(tmp_path / "part", plan=replace(plan, objects_from=begin, objects_to=end))
    expected = {
        name: content
        for name, content in bytes_of(whole.lake / "raw").items()
        if "2031-05-09/11" <= name < "2031-05-09/15"
    }
    assert len(expected) > 20
    assert bytes_of(part.lake / "raw") == expected


def test_without_faults_every_burst_is_heard_once(tmp_path: Path) -> None:
    report = rehearse(tmp_path / "lake", plan=replace(SMALL, faults=Faults.none()))
    assert report.lines == report.bursts
    assert report.rejects == 0


def test_a_folder_in_use_is_refused(tmp_path: Path) -> None:
    (tmp_path / "lake").mkdir()
    (tmp_path / "lake" / "diary.txt").write_text("mine")
    with pytest.raises(InputError, match="already holds something"):
        rehearse(tmp_path / "lake", plan=SMALL)
    assert [path.name for path in (tmp_path / "lake").iterdir()] == ["diary.txt"]


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda: Plan(scene="airport"), "depot_fair"),
        (lambda: Plan(motes=0), "motes is 0"),
        (lambda: Plan(days=0), "days is 0"),
        (lambda: Plan(seed=-1), "seed is -1"),
        (lambda: Plan(burst_period_s=0.2), "burst_period_s is 0.2"),
        (lambda: Plan(motes=9, networks=10), "networks is 10; give 1 to 9"),
        (lambda: Plan(delivery_min=7), "a divisor of 60"),
        (lambda: Plan(objects_from=datetime(2031, 5, 9)), "time zone"),
        (lambda: Plan(faults=Faults(loss_share=1.5)), "loss_share is 1.5"),
    ],
)
def test_a_plan_that_cannot_be_is_refused_by_name(make: Callable[[], Plan], said: str) -> None:
    with pytest.raises(InputError, match=said):
        make()
