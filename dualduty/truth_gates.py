"""Gates over ticks, looked at both ways in time: what a definition of truth may do and a detector may not."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Gate = NDArray[np.bool_]
Interval = tuple[float, float]  # s, half open

_ROUNDING = 1e-9  # s


def stretches(gate: Gate) -> list[tuple[int, int]]:
    """First tick of each open stretch, and first tick after it."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], gate.astype(np.int8), [0]])))
    return [(int(first), int(last)) for first, last in zip(edges[::2], edges[1::2], strict=True)]


def kept(gate: Gate, least: float, dt: float) -> Gate:
    """The stretches that last at least so long [s]."""
    long = np.zeros_like(gate)
    for first, last in stretches(gate):
        if (last - first) * dt >= least - _ROUNDING:
            long[first:last] = True
    return long


def bridged(gate: Gate, longest: float, dt: float) -> Gate:
    """The gate with pauses between two stretches filled where they last at most so long [s]."""
    joined = gate.copy()
    for first, last in stretches(~gate):
        if first > 0 and last < len(gate) and (last - first) * dt <= longest + _ROUNDING:
            joined[first:last] = True
    return joined


def after(gate: Gate, least: float, lasts: float, dt: float) -> Gate:
    """For a time [s] after each stretch of at least `least` [s]; nothing after one that never ends."""
    follows = np.zeros_like(gate)
    for first, last in stretches(kept(gate, least, dt)):
        if last < len(gate) or first == last:
            follows[last : last + round(lasts / dt)] = True
    return follows


def filled(values: Array) -> Array:
    """Gaps (NaN) bridged by straight lines; zeros where nothing ever came."""
    good = np.isfinite(values)
    if not good.any():
        return np.zeros_like(values)
    ticks = np.arange(len(values))
    return np.interp(ticks, ticks[good], values[good])


def centred_mean(values: Array, over: float, dt: float) -> Array:
    """Mean over a window [s] about each tick, shortened at both ends."""
    half = max(round(0.5 * over / dt), 0)
    total = np.concatenate([[0.0], np.cumsum(values)])
    ticks = np.arange(len(values))
    first, last = np.maximum(ticks - half, 0), np.minimum(ticks + half + 1, len(values))
    return np.asarray((total[last] - total[first]) / (last - first))
