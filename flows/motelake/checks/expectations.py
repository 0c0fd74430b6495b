"""The gate's expectations, held against a table of profiles by Great Expectations.

One row a raw object and one validation for all of them: what Great Expectations costs (about 0.06 s) is paid
once, not per object, and the counting stays in DuckDB, which does it faster than any of its engines.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from motelake.checks.importing import import_great_expectations
from motelake.checks.profile import ObjectProfile
from motelake.core.campaign import Limits
from motelake.core.verdicts import Finding

COMPLETE_FROM = 0.8
"""Share of expected bursts below which an object is called incomplete (common practice, no source)."""


@dataclass(frozen=True)
class Expectation:
    """A figure of the profile that must not be below or above its limit."""

    name: str
    limit: float
    is_lower_limit: bool = False
    is_warning: bool = False


def expectations(limits: Limits) -> tuple[Expectation, ...]:
    """All expectations of the gate; each is named after the figure of the profile that it looks at."""
    return (
        Expectation("refused", 0),
        Expectation("truncated", 0),
        Expectation("reject_share", limits.reject_share),
        Expectation("unknown_mote_share", limits.unknown_mote_share),
        Expectation("outside_campaign_share", limits.reject_share),
        Expectation("outside_span_share", limits.outside_span_share),
        Expectation("completeness", COMPLETE_FROM, is_lower_limit=True, is_warning=True),
    )


def find(profiles: Sequence[ObjectProfile], gate: Sequence[Expectation]) -> list[tuple[Finding, ...]]:
    """For each profile, what each expectation found; a figure that is None meets every expectation."""
    if not profiles:
        return []
    figures = {one.name: [getattr(profile, one.name) for profile in profiles] for one in gate}
    unmet = _validate(figures, gate)
    return [
        tuple(
            Finding(one.name, figures[one.name][row], one.limit, row not in unmet[one.name]) for one in gate
        )
        for row in range(len(profiles))
    ]


def _validate(figures: dict[str, list[float | None]], gate: Sequence[Expectation]) -> dict[str, set[int]]:
    """The rows that did not meet each expectation, by its name."""
    gx = import_great_expectations()
    import pandas as pd
    from great_expectations.data_context.types.base import ProgressBarsConfig

    table = pd.DataFrame({name: pd.Series(column, dtype="float64") for name, column in figures.items()})
    context = gx.get_context(mode="ephemeral")
    context.variables.progress_bars = ProgressBarsConfig(globally=False)
    asset = context.data_sources.add_pandas("profiles").add_dataframe_asset("profile")
    batch = asset.add_batch_definition_whole_dataframe("all").get_batch({"dataframe": table})
    suite = gx.ExpectationSuite(name="gate", expectations=[_to_library(one) for one in gate])
    answer = batch.validate(suite, result_format="COMPLETE")
    unmet = {}
    for expectation, result in zip(gate, answer.results, strict=True):
        if result.exception_info and result.exception_info.get("raised_exception"):
            raise RuntimeError(f"Great Expectations failed: {result.exception_info['exception_message']}")
        unmet[expectation.name] = set(result.result.get("unexpected_index_list") or ())
    return unmet


def _to_library(expectation: Expectation) -> Any:
    from great_expectations.expectations.core.expect_column_values_to_be_between import (
        ExpectColumnValuesToBeBetween,
    )
    from great_expectations.expectations.metadata_types import FailureSeverity

    return ExpectColumnValuesToBeBetween(
        column=expectation.name,
        min_value=expectation.limit if expectation.is_lower_limit else None,
        max_value=None if expectation.is_lower_limit else expectation.limit,
        severity=FailureSeverity.WARNING if expectation.is_warning else FailureSeverity.CRITICAL,
    )
