"""Chance that repeats: every subject draws from a stream of its own."""

import zlib

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]


def draw(seed: int, *subject: str | int) -> np.random.Generator:
    """The random stream of one subject, independent of every other subject and of the order of asking."""
    words = [zlib.crc32(str(word).encode()) for word in subject]
    return np.random.Generator(np.random.PCG64(np.random.SeedSequence([seed, *words])))


def wander(rng: np.random.Generator, rows: int, steps: int, keep: float, spread: float) -> FloatArray:
    """A random walk pulled back to zero (first-order autoregression) for each row, shape (rows, steps)."""
    shocks = rng.standard_normal((steps, rows)) * spread * np.sqrt(1 - keep**2)
    walk = np.empty((steps, rows))
    now = rng.standard_normal(rows) * spread
    for step in range(steps):
        now = keep * now + shocks[step]
        walk[step] = now
    return np.ascontiguousarray(walk.T)


def follow(target: FloatArray, minutes: float | FloatArray) -> FloatArray:
    """What follows a target by a first-order delay, on the minute grid; target has shape (rows, steps).

    minutes is the time constant, one for all rows or one a row.
    """
    share = 1 - np.exp(-1 / np.broadcast_to(np.asarray(minutes, dtype=np.float64), target.shape[:1]))
    columns = np.ascontiguousarray(target.T)
    result = np.empty_like(columns)
    now = columns[0].copy()
    for step, wanted in enumerate(columns):
        now = now + share * (wanted - now)
        result[step] = now
    return np.ascontiguousarray(result.T)
