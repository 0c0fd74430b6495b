"""What the gate leaves out while it imports Great Expectations is there for others, and nothing is said."""

import subprocess
import sys

SCRIPT = """
import logging
import sys
from motelake.checks.importing import import_great_expectations

logging.basicConfig(level=logging.INFO)
gx = import_great_expectations()
assert import_great_expectations() is gx
assert not {"scipy.stats", "altair", "sqlalchemy"} & sys.modules.keys(), sys.modules.keys()
from great_expectations.expectations.core import expect_column_kl_divergence_to_be_less_than as user
distance = user.stats.entropy([0.5, 0.5], [0.25, 0.75])
import altair
import scipy.stats
import sqlalchemy
assert distance == scipy.stats.entropy([0.5, 0.5], [0.25, 0.75])
assert user.alt.Chart is altair.Chart
from great_expectations.datasource.fluent.sqlite_datasource import SqliteDatasource
assert SqliteDatasource.__fields__["connection_string"].required
gx.get_context(mode="ephemeral")
"""


def test_what_the_gate_does_not_use_is_imported_by_who_does() -> None:
    done = subprocess.run([sys.executable, "-c", SCRIPT], check=True, capture_output=True, text=True)
    assert (done.stdout, done.stderr) == ("", "")
