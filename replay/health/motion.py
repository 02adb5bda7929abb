"""Motion of the vehicle from its slow copy, and how surely two channels see the same of it."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d

from dualduty.units import STANDARD_GRAVITY
from replay.health.slow_copy import RATE, SlowMotion

Array = NDArray[np.float64]
Gate = NDArray[np.bool_]
MOVING: Final = 2.0  # m/s; below it steering and wheel speeds say little
FALLING: Final = 0.4 * STANDARD_GRAVITY  # felt force below which the car flies: 0.3 to 0.5 g, common practice
_SMOOTH: Final = 0.28  # s; wheel hop and noise are gone, roll and pitch are not
_SLOW: Final = 6.0  # s; offsets, hills and drift are gone
PER_SECOND: Final = 0.6  # independent samples a second in this band; measured on simulated runs: neighbours 1.5 s apart hardly correlate
LEAST: Final = 10.0  # s of driving; less says nothing
MOST_SAMPLES: Final = 300.0  # more are not counted: what models leave out doesn't average away


def middle(values: Array) -> Array:
    """The median over corners, (bin,), of what is there of (4, bin)."""
    ordered = np.sort(values, axis=0)  # NaN last
    held = np.isfinite(values).sum(axis=0)
    picks = np.arange(values.shape[1])
    low, high = np.maximum(held - 1, 0) // 2, held // 2
    both = 0.5 * (ordered[low, picks] + ordered[np.minimum(high, np.maximum(held - 1, 0)), picks])
    return np.where(held > 0, both, np.nan)


def speed(motion: SlowMotion) -> Array:
    """Forward speed as the wheels have it, (bin,). [m/s]"""
    return middle(motion.corners("wheel_speed"))


def speed_around(motion: SlowMotion, at: float, span: float) -> float:
    """Mean speed over `span` seconds after (or, negative, before) a time; NaN where it isn't known. [m/s]"""
    begin, end = sorted((at, at + span))
    wheels = motion.corners("wheel_speed")[:, max(int(begin * RATE), 0) : max(int(np.ceil(end * RATE)), 1)]
    return float(np.median(wheels[np.isfinite(wheels)])) if np.isfinite(wheels).any() else np.nan


def felt(motion: SlowMotion) -> Array:
    """Size of the specific force, whichever way the unit is mounted, (bin,). [m/s²]"""
    return np.sqrt(sum(motion.one(f"specific_force_{axis}") ** 2 for axis in "xyz"))


def filled(values: Array) -> Array:
    """Holes bridged by straight lines, zero where there is nothing at all."""
    known = np.isfinite(values)
    if known.all():
        return values
    if not known.any():
        return np.zeros_like(values)
    places = np.arange(len(values))
    return np.interp(places, places[known], values[known])


def band(values: Array) -> Array:
    """What moves between about 0.1 and 2 Hz, without lag; NaN where the channel has none."""
    whole = filled(values)
    smooth = uniform_filter1d(uniform_filter1d(whole, round(_SMOOTH * RATE), mode="nearest"), round(_SMOOTH * RATE), mode="nearest")
    out = smooth - uniform_filter1d(smooth, round(_SLOW * RATE), mode="nearest")
    return np.where(np.isfinite(values), out, np.nan)


def slope(values: Array) -> Array:
    """Rate of change per second, without lag."""
    return np.gradient(values) * RATE if len(values) > 1 else np.zeros_like(values)


def correlation(one: Array, other: Array, where: Gate) -> tuple[float, float]:
    """Correlation of two channels where both have a value, and how many independent samples it stands on."""
    both = where & np.isfinite(one) & np.isfinite(other)
    count = int(both.sum())
    if count < LEAST * RATE:
        return 0.0, 0.0
    x, y = one[both] - one[both].mean(), other[both] - other[both].mean()
    power = float(np.dot(x, x) * np.dot(y, y))
    if not power > 0.0:
        return 0.0, 0.0
    return float(np.dot(x, y)) / power**0.5, min(PER_SECOND * count / RATE, MOST_SAMPLES)


def explained(found: tuple[float, float]) -> float:
    """Log-likelihood gained by a line of positive slope over none, from a correlation and its count of samples.

    For Gaussian residuals the gain of a regression is -n/2 log(1 - r²); a slope that may not be negative gains nothing there.
    """
    r, samples = found
    return -0.5 * samples * float(np.log1p(-(min(max(r, 0.0), 0.999) ** 2)))


def flights(motion: SlowMotion) -> list[tuple[int, int]]:
    """First and last-but-one bin of each stretch of nearly no felt force, of a tenth of a second or more."""
    low = np.nan_to_num(felt(motion), nan=np.inf) < FALLING
    edges = np.flatnonzero(np.diff(np.concatenate([[0], low.astype(np.int8), [0]])))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True) if b - a >= 0.1 * RATE]
