"""One rehearsed lake for many tests, with the lines that should be accepted as a table."""

import gzip
import json
from typing import Any

import pandas as pd
import pytest

from motelake.rehearsal import Plan, Report, rehearse


@pytest.fixture(scope="session")
def fair(tmp_path_factory: pytest.TempPathFactory) -> Report:
    """A day of the fair with forty motes and every fault."""
    return rehearse(tmp_path_factory.mktemp("fair") / "lake", plan=Plan(days=1, seed=5, burst_period_s=30))


@pytest.fixture(scope="session")
def lines(fair: Report) -> pd.DataFrame:
    """Every line of the fair's raw objects: object, line, text (bytes)."""
    rows = [
        {"object": path.relative_to(fair.lake).as_posix(), "line": number, "text": text}
        for path in sorted((fair.lake / "raw").rglob("*.gz"))
        for number, text in enumerate(gzip.decompress(path.read_bytes()).split(b"\n")[:-1], 1)
    ]
    return pd.DataFrame(rows)


@pytest.fixture(scope="session")
def heard(fair: Report, lines: pd.DataFrame) -> pd.DataFrame:
    """The lines that should be accepted: object, line, gateway, mote, seq, received_at, readings."""
    refused = pd.read_parquet(fair.truth / "rejects.parquet")[["object", "line", "reason"]]
    kept = lines.merge(refused, on=["object", "line"], how="left")
    kept = kept[kept["reason"].isna()]
    bursts: list[dict[str, Any]] = [json.loads(text) for text in kept["text"]]
    told = pd.DataFrame(bursts)[["gateway", "mote", "seq", "received_at", "readings"]]
    told["received_at"] = pd.to_datetime(told["received_at"])
    return pd.concat([kept[["object", "line"]].reset_index(drop=True), told], axis=1)


@pytest.fixture(scope="session")
def incidents(fair: Report) -> pd.DataFrame:
    """Everything that went wrong, with times."""
    table = pd.read_csv(fair.truth / "incidents.csv")
    return table.assign(from_at=pd.to_datetime(table["from_at"]), to_at=pd.to_datetime(table["to_at"]))
