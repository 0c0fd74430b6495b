"""What is said where DuckDB meets a fault of its surroundings."""

import duckdb
import pytest

from motelake.engine import told_surroundings
from motelake.errors import DamagedError, SurroundingsError


def test_a_full_disk_is_told_with_what_to_do() -> None:
    full = duckdb.IOException('IO Error: Could not write file "fair.duckdb": No space left on device')
    said = r"left on device\. Make room, then run it again\."
    with pytest.raises(SurroundingsError, match=said), told_surroundings("Loading"):
        raise full


def test_a_file_found_damaged_in_the_middle_is_not_to_be_tried_again() -> None:
    damaged = duckdb.Error("Corrupt database file: computed checksum 1 does not match stored checksum 2")
    with (
        pytest.raises(DamagedError, match="Loading stopped: Corrupt") as raised,
        told_surroundings("Loading"),
    ):
        raise damaged
    assert not raised.value.is_worth_a_retry


def test_a_mistake_in_a_statement_stays_one() -> None:
    with pytest.raises(duckdb.ParserException), told_surroundings("Loading"):
        duckdb.execute("selec 1")
