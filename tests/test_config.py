"""Settings: flags before MOTELAKE_*, MOTELAKE_* before defaults; mistakes told with their source."""

from pathlib import Path

import pytest

from motelake.config import default_warehouse, read_config
from motelake.errors import InputError


def test_defaults_stand_where_nothing_is_said(tmp_path: Path) -> None:
    config = read_config(str(tmp_path / "fair"), environment={})
    assert (config.memory, config.threads, config.work_folder) == ("1600MB", None, None)
    assert config.warehouse == tmp_path / "fair.duckdb"


def test_the_call_goes_before_a_variable_and_a_variable_before_the_default() -> None:
    environment = {"MOTELAKE_WAREHOUSE": "/other", "MOTELAKE_THREADS": "2", "MOTELAKE_LAKE": "/lake"}
    config = read_config(warehouse="/own", environment=environment)
    assert (config.lake, config.warehouse, config.threads) == ("/lake", Path("/own"), 2)
    assert read_config("/fair", environment=environment).warehouse == Path("/other")


def test_an_empty_variable_is_none() -> None:
    assert read_config("/lake", environment={"MOTELAKE_MEMORY": ""}).memory == "1600MB"


def test_variables_of_others_are_let_be() -> None:
    assert read_config("/lake", environment={"MOTELAKE_OPEN_DATA": "/data"}).lake == "/lake"


@pytest.mark.parametrize(
    ("given", "environment", "source"),
    [
        ({}, {"MOTELAKE_MEMORY": "lots"}, "MOTELAKE_MEMORY is 'lots'.* such as 500MB"),
        ({}, {"MOTELAKE_MEMORY": "0GB"}, "MOTELAKE_MEMORY"),
        ({}, {"MOTELAKE_MEMORY": "3"}, "MOTELAKE_MEMORY is '3'"),
        ({}, {"MOTELAKE_THREADS": "0"}, "MOTELAKE_THREADS is '0'.*whole number from 1"),
        ({}, {"MOTELAKE_THREADS": "two"}, "MOTELAKE_THREADS is 'two'"),
        ({"lake": " "}, {}, "LAKE is ' '"),
        ({"warehouse": ""}, {}, "--warehouse is ''"),
    ],
)
def test_a_wrong_value_names_its_source_and_what_is_accepted(
    given: dict[str, str], environment: dict[str, str], source: str
) -> None:
    with pytest.raises(InputError, match=source):
        read_config(**({"lake": "/lake"} | given), environment=environment)


def test_without_a_lake_every_place_that_was_tried_is_named() -> None:
    with pytest.raises(InputError, match="after the command, or set MOTELAKE_LAKE"):
        read_config(environment={})


def test_the_warehouse_of_a_lake_elsewhere_is_in_the_data_folder() -> None:
    home = {"XDG_DATA_HOME": "/data"}
    one, other = (default_warehouse(f"s3://{bucket}/fair/", home) for bucket in ("a", "b"))
    assert one.parent == other.parent == Path("/data/motelake")
    assert one.name.startswith("fair-")
    assert one != other
    assert default_warehouse("s3://a/fair", home) == one


def test_a_file_url_is_a_folder() -> None:
    assert default_warehouse("file:///lakes/fair", {}) == Path("/lakes/fair.duckdb")
