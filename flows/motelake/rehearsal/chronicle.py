"""The part of the truth that grows with the bursts, written as it comes."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from motelake.rehearsal.chance import BoolArray, FloatArray, IntArray
from motelake.rehearsal.power import Bursts
from motelake.rehearsal.sensing import FaultyReadings
from motelake.rehearsal.story import Story
from motelake.rehearsal.venue import Clock

STAMP = pa.timestamp("us", tz="UTC")
FATES = ("heard", "lost_by_radio", "lost_with_gateway", "damaged")
BURSTS = pa.schema([
    ("mote", pa.string()), ("boot", pa.int16()), ("seq", pa.int32()), ("sampled_at", STAMP),
    ("hearings", pa.int16()), ("is_flushed", pa.bool_()), ("fate", pa.string()),
])  # fmt: skip
FAULTY = pa.schema([
    ("mote", pa.string()), ("boot", pa.int16()), ("seq", pa.int32()), ("sampled_at", STAMP),
    ("measure", pa.string()), ("fault", pa.string()), ("healthy", pa.float64()), ("sent", pa.float64()),
])  # fmt: skip


def named(names: Sequence[str], rows: IntArray) -> Any:
    """Positions in a list of names as Arrow strings."""
    return pa.array(list(names), pa.string()).take(pa.array(rows))


def stamps(clock: Clock, second: FloatArray) -> Any:
    """Seconds of the campaign as Arrow time stamps."""
    start = round(clock.starts_at.timestamp() * 1_000_000)
    return pa.array(start + np.rint(second * 1e6).astype(np.int64)).cast(STAMP)


class Chronicle:
    """Keeps what grows with the bursts, written as it comes."""

    def __init__(self, folder: Path, story: Story) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self.scene, self.boots = story.scene, story.boots
        self.motes = [mote.name for mote in story.fleet.motes]
        self.bursts = pq.ParquetWriter(folder / "bursts.parquet", BURSTS, compression="zstd")
        self.faulty = pq.ParquetWriter(folder / "faulty_readings.parquet", FAULTY, compression="zstd")

    def identity(self, bursts: Bursts, rows: IntArray) -> list[Any]:
        """mote, boot, seq and sampled_at of some bursts."""
        return [
            named(self.motes, bursts.mote[rows]),
            pa.array(self.boots.number[bursts.boot[rows]].astype(np.int16)),
            pa.array(bursts.seq[rows].astype(np.int32)),
            stamps(self.scene.clock, bursts.second[rows]),
        ]

    def add(self, bursts: Bursts, hearings: IntArray, is_flushed: BoolArray, fate: IntArray) -> None:
        """Note the fate (a position in FATES) of all bursts of a span."""
        every = np.arange(len(bursts.mote))
        columns = [pa.array(hearings.astype(np.int16)), pa.array(is_flushed), named(FATES, fate)]
        self.bursts.write_table(pa.table([*self.identity(bursts, every), *columns], schema=BURSTS))

    def add_faulty(self, bursts: Bursts, faulty: FaultyReadings) -> None:
        """Note the readings of a span that are not what they should be."""
        unit = np.array([10.0**measure.decimals for measure in self.scene.measures])[faulty.measure]
        names = [measure.measure for measure in self.scene.measures]
        columns = [
            named(names, faulty.measure),
            pa.array(list(faulty.fault), pa.string()),
            pa.array(faulty.healthy / unit),
            pa.array(faulty.sent / unit),
        ]
        self.faulty.write_table(pa.table([*self.identity(bursts, faulty.burst), *columns], schema=FAULTY))

    def close(self) -> None:
        """Finish both files."""
        self.bursts.close()
        self.faulty.close()
