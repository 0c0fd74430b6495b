"""Readers in processes of their own, while snapshots come and go."""

import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tests.steps.conftest import Place

NINE = datetime(2031, 5, 9, 9, tzinfo=UTC)
READERS = 8
PUBLISHES = 20

READ = """
import sys, time
from pathlib import Path
from motelake.lake.store import Lake
from motelake.steps.read import open_snapshot

lake, stop = Lake.open(sys.argv[1]), Path(sys.argv[2])
seen = []
while not stop.exists():
    with open_snapshot(lake) as reader:
        ask = "select min(value), max(value), count(*) from reading"
        low, high, count = reader.execute(ask).fetchall()[0]
        warmth = {row[1] for row in reader.execute("from climate.warmth").fetchall()}
        level = reader.execute("select max(height_m) from level").fetchall()[0][0]
    # Each publish says one number everywhere: in both hours, in the register, in the views.
    assert low == high == level and warmth == {low} and count == 360, (low, high, level, warmth, count)
    seen.append(low)
    # Two cores are shared with the publisher, which is to get on.
    time.sleep(0.3)
assert seen == sorted(seen)
print(len(seen), len(set(seen)))
"""


def test_readers_meet_whole_snapshots_only_and_no_error(place: "Place", tmp_path: Path) -> None:
    for hour_at in (NINE, NINE + timedelta(hours=1)):
        place.hear(hour_at, value=0.0)
    place.engine.execute("insert into level values ('hall', 0)")
    place.publish()
    stop = tmp_path / "stop"
    command = [sys.executable, "-c", READ, place.lake.url, str(stop)]
    readers = [
        subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        for _ in range(READERS)
    ]
    try:
        for number in range(1, PUBLISHES + 1):
            place.engine.execute("update reading set value = ?", [number])
            place.engine.execute("update level set height_m = ?", [number])
            place.engine.execute(
                "insert into work.dirty_hour values (?), (?)", [NINE, NINE + timedelta(hours=1)]
            )
            place.publish(datetime(2031, 5, 9, 12, number, tzinfo=UTC))
    finally:
        stop.touch()
        said = [reader.communicate(timeout=60) for reader in readers]
    assert [error for _, error in said] == [""] * READERS
    loops = [[int(number) for number in answer.split()] for answer, _ in said]
    # Without a second snapshot seen by anybody, the test would have shown nothing.
    assert max(snapshots for _, snapshots in loops) > 2
