"""Hearings as JSON Lines, a column at a time."""

from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from motelake.rehearsal.chance import IntArray
from motelake.rehearsal.sensing import ABSENT
from motelake.rehearsal.venue import Measure


def text_of(codes: IntArray, decimals: int) -> Any:
    """Whole numbers of the last decimal as decimal text (Arrow strings): 214 with one decimal is 21.4.

    Texts come from a table of the values that occur, because a sensor that rounds says few different things.
    """
    low, high = int(codes.min()), int(codes.max())
    if high - low > 200_000:
        known, place = np.unique(codes, return_inverse=True)
    else:
        known, place = np.arange(low, high + 1), codes - low
    texts = [str(code) if decimals == 0 else f"{code / 10**decimals:.{decimals}f}" for code in known.tolist()]
    return pc.take(pa.array(texts, pa.string()), pa.array(place))


def stamp_of(milliseconds: IntArray) -> Any:
    """Milliseconds since 1970 as RFC 3339 text in UTC (Arrow strings)."""
    plain = pc.cast(pa.array(milliseconds).cast(pa.timestamp("ms")), pa.string())
    return pc.utf8_replace_slice(plain, start=10, stop=11, replacement="T")


def readings_of(codes: IntArray, measures: tuple[Measure, ...]) -> Any:
    """The members of each burst's readings object; what a kit lacks is left out."""
    parts = []
    for column, measure in enumerate(measures):
        own = codes[:, column]
        rows = np.flatnonzero(own != ABSENT)
        if not len(rows):
            continue
        label = f'"{measure.measure}":'
        texts = pc.binary_join_element_wise(label, text_of(own[rows], measure.decimals), "")
        place = np.full(len(own), -1)
        place[rows] = np.arange(len(rows))
        parts.append(pc.take(texts, pa.array(place, mask=place < 0)))
    return pc.binary_join_element_wise(*parts, ",", null_handling="skip")


def lines_of(
    gateways: list[str],
    motes: list[str],
    measures: tuple[Measure, ...],
    columns: dict[str, IntArray],
    codes: IntArray,
) -> Any:
    """One line a hearing, each with its line end, as Arrow binary.

    columns: gateway and mote (positions in the names), seq, received_ms (since 1970), rssi_dbm, battery_cv
    (hundredths of a volt).
    """
    joined = pc.binary_join_element_wise(
        '{"gateway":"',
        pc.take(pa.array(gateways), pa.array(columns["gateway"])),
        '","mote":"',
        pc.take(pa.array(motes), pa.array(columns["mote"])),
        '","seq":',
        pc.cast(pa.array(columns["seq"]), pa.string()),
        ',"received_at":"',
        stamp_of(columns["received_ms"]),
        'Z","rssi_dbm":',
        text_of(columns["rssi_dbm"], 0),
        ',"battery_v":',
        text_of(columns["battery_cv"], 2),
        ',"readings":{',
        readings_of(codes, measures),
        "}}\n",
        "",
    )
    return pc.cast(joined, pa.binary())
