"""The lakes in sample_lake/ are what their plans give, so anybody can make them again."""

import gzip
from pathlib import Path

import pandas as pd
import pytest

from motelake.rehearsal import rehearse
from motelake.rehearsal.__main__ import main
from motelake.rehearsal.samples import SAMPLES

CHECKOUT = Path(__file__).parents[2]
DELIVERED = ("campaign.toml", "register", "programme", "context", "raw")


def contents(lake: Path) -> dict[str, bytes]:
    """What a lake was delivered with, unpacked: how well zlib packs may differ from machine to machine."""
    paths = [
        path for part in DELIVERED for path in [lake / part, *(lake / part).rglob("*")] if path.is_file()
    ]
    return {
        path.relative_to(lake).as_posix(): gzip.decompress(path.read_bytes())
        if path.suffix == ".gz"
        else path.read_bytes()
        for path in paths
    }


@pytest.mark.parametrize("name", SAMPLES)
def test_a_sample_lake_is_what_its_plan_gives(tmp_path: Path, name: str) -> None:
    report = rehearse(tmp_path / name, plan=SAMPLES[name])
    made, kept = contents(report.lake), contents(CHECKOUT / "sample_lake" / name)
    assert made.keys() == kept.keys()
    assert [path for path in made if made[path] != kept[path]] == []


def test_the_sample_lakes_are_small() -> None:
    sizes = {
        name: sum(
            path.stat().st_size
            for part in DELIVERED
            for path in (CHECKOUT / "sample_lake" / name / part).rglob("*")
            if path.is_file()
        )
        for name in SAMPLES
    }
    assert sizes["depot_fair"] < 8_000_000
    assert sizes["glasshouse"] < 1_000_000


def test_the_glasshouse_has_soil_and_no_crowd() -> None:
    measures = pd.read_csv(CHECKOUT / "sample_lake" / "glasshouse" / "register" / "measures.csv")
    assert "soil_moisture" in set(measures["measure"])
    assert "crowd" not in set(measures["role"])


def test_the_command_writes_both_lakes_and_refuses_to_write_over_them(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("motelake.rehearsal.__main__.SAMPLES", {"glasshouse": SAMPLES["glasshouse"]})
    assert main([str(tmp_path)]) == 0
    assert "lines in" in capsys.readouterr().out
    assert main([str(tmp_path)]) == 2
    assert "already holds something" in capsys.readouterr().err
    assert main([]) == 2
