"""Readers of what is published in an object store: with motelake, with DuckDB alone, and as data frames."""

import json
import os
import subprocess
import sys
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING

import duckdb
import pandas as pd
import polars
import pytest

import motelake
from motelake.config import Config
from motelake.errors import QueryError
from motelake.lake.store import Lake
from motelake.steps.query import run_sql

if TYPE_CHECKING:
    from tests.steps.conftest import Place

MEAN = "select avg(value) as mean, count(*) as n from reading"


def call(*arguments: str) -> subprocess.CompletedProcess[str]:
    command = [str(Path(sys.executable).with_name("motelake")), *arguments]
    return subprocess.run(command, capture_output=True, text=True, check=False)


def answer_of(place: "Place", name: str) -> str:
    answers = json.loads(place.lake.read("published/answers.json"))["answers"]
    return place.lake.engine_path(f"published/{next(one['file'] for one in answers if one['name'] == name)}")


def test_the_python_door_opens_the_snapshot_of_a_store(store_place: "Place") -> None:
    with motelake.open(store_place.lake.url) as reader:
        assert reader.execute(MEAN).fetchall() == [(20.0, 180)]


def test_a_reader_looks_once_at_each_part(store_place: "Place", requests: Counter[str]) -> None:
    with motelake.open(store_place.lake.url) as reader:
        requests.clear()
        assert reader.execute(MEAN).fetchall() == [(20.0, 180)]
        assert requests["head_object"] == 1
        requests.clear()
        assert reader.execute("select max(value) from reading").fetchall() == [(20.0,)]
        assert requests["head_object"] == 0


def test_sql_and_its_limits_hold_on_a_store(store_place: "Place", tmp_path: Path) -> None:
    config = Config(store_place.lake.url, tmp_path / "none.duckdb")
    assert run_sql(store_place.lake, MEAN, config).to_pylist() == [{"mean": 20.0, "n": 180}]
    part = next(one for one in store_place.lake.list("published/parts/reading"))
    for statement in (
        f"copy (select 1) to '{store_place.lake.engine_path(part.name)}'",
        f"explain analyze copy (select 1) to '{store_place.lake.engine_path(part.name)}'",
        "from read_text('s3://lake/ready')",
        "from read_text('/etc/hostname')",
    ):
        with pytest.raises(QueryError):
            run_sql(store_place.lake, statement, config)
    assert part in store_place.lake.list("published/parts/reading")


def test_the_command_asks_a_store(store_place: "Place") -> None:
    asked = call("sql", store_place.lake.url, MEAN, "--format", "json")
    assert json.loads(asked.stdout) == [{"mean": 20.0, "n": 180}], asked.stderr
    assert os.environ["AWS_SECRET_ACCESS_KEY"] not in asked.stdout + asked.stderr


def test_duckdb_alone_reads_parts_and_answers_of_a_store(store_place: "Place") -> None:
    """The few lines that README gives to those who have no motelake."""
    import s3fs

    engine = duckdb.connect(config={"autoinstall_known_extensions": "false"})
    engine.register_filesystem(s3fs.S3FileSystem(use_listings_cache=False))
    parts = store_place.lake.engine_path("published/parts/reading")
    assert engine.execute(f"select count(*) from read_parquet('{parts}/*.parquet')").fetchall() == [(180,)]
    file = answer_of(store_place, "climate.warmth")
    assert engine.execute(f"select count(*) from read_parquet('{file}')").fetchall() == [(3,)]


def test_answers_are_data_frames_straight_from_a_store(store_place: "Place") -> None:
    assert list(pd.read_parquet(answer_of(store_place, "climate.warmth"))["mote"]) == ["M0", "M1", "M2"]


def test_polars_reads_answers_straight_from_a_store(store_place: "Place") -> None:
    options = {
        "aws_endpoint_url": os.environ["AWS_ENDPOINT_URL_S3"],
        "aws_allow_http": "true",
        "aws_region": "us-east-1",
    }
    frame = polars.read_parquet(answer_of(store_place, "climate.warmth"), storage_options=options)
    assert frame["mote"].to_list() == ["M0", "M1", "M2"]


def test_nothing_that_is_written_to_a_store_holds_its_keys(store_place: "Place") -> None:
    lake: Lake = store_place.lake
    for info in lake.list("published"):
        data = lake.read(info.name)
        for name in ("AWS_ACCESS_KEY_ID", "AWS_SECRET_ACCESS_KEY"):
            assert os.environ[name].encode() not in data, info.name
