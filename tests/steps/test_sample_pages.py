"""The lakes in sample_lake/ give pages worth looking at: another house, other measures, the same program."""

import shutil
from pathlib import Path

import pytest

from motelake.config import read_config
from motelake.lake.store import Lake
from motelake.steps import campaign
from motelake.steps.check import check
from motelake.steps.load import load
from motelake.steps.page import HALL_FILE, PAGE_FILE
from motelake.steps.publish import publish
from motelake.steps.stage import stage

SAMPLES = Path(__file__).parents[2] / "sample_lake"
# What the plans in rehearsal/ put into these campaigns, as their pages must tell it.
TOLD = {
    "depot_fair": (
        "during “The big seed swap”",
        "Footsteps felt in the floor: the busiest half hour was",
        "Sound level: furthest from quiet at",
        "rise and fall together",
        "1 delivery held back",
        "M0030, Walk along the skylights",
    ),
    "glasshouse": (
        "water content of the soil by volume",
        "Irrigation: water content of the soil by volume +",
        "No measure of this campaign counts people&#x27;s steps.",
        "10 heard, of 10 motes behind 1 gateway.",
    ),
}
FIGURES = {
    "depot_fair": ("changes", "crowd", "strips", "pairs", "effects", "fleet", "doubts"),
    "glasshouse": ("changes", "strips", "pairs", "effects", "fleet", "doubts"),
}


@pytest.mark.parametrize("name", TOLD)
def test_a_sample_lake_gives_a_whole_page(name: str, tmp_path: Path) -> None:
    shutil.copytree(SAMPLES / name, tmp_path / name)
    lake = Lake.open(str(tmp_path / name))
    config = read_config(lake.url, environment={})
    for step in (stage, check, load):
        step(lake, campaign.read(lake), config, lambda _: None)
    report = publish(lake, config, lambda _: None)
    assert report.page_failures == ()
    page, hall = (lake.read(file).decode() for file in (PAGE_FILE, HALL_FILE))
    assert len(page) < 1_500_000
    for sentence in TOLD[name]:
        assert sentence in page
    for key in FIGURES[name]:
        assert f'<figure id="{key}-0">' in page
        assert f'<article id="{key}"' in hall
    assert "Not answered here" not in page
