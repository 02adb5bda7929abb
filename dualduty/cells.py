"""Filters, triggers and holds for one tick of one number: what compiled plug-ins are put together from.

Each takes the rows of its own memory first: a plug-in in tick form writes `low_pass(memory.felt, wanted, self.smooth)`,
and `each_tick` turns `memory.felt` into the array `s` and the place `at` of its rows in it. Memory starts at zero.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.kernels import inline

Array = NDArray[np.float64]

ROWS: Final[dict[Any, int]] = {}  # cell -> rows of memory it needs


def cell(rows: int) -> Callable[[Callable[..., float]], Callable[..., float]]:
    """Declare a function `(s, at, ...)` that keeps its state in `rows` rows of the memory `s` from row `at` on."""

    def declare(function: Callable[..., float]) -> Callable[..., float]:
        compiled = inline(function)
        ROWS[compiled] = rows
        return compiled

    return declare


@cell(rows=2)
def low_pass(s: Array, at: int, wanted: float, share: float) -> float:
    """Follow `wanted` with a first-order lag, by `share` of the way per tick; starts settled."""
    if s[at] == 0.0:
        s[at] = 1.0
        s[at + 1] = wanted
    s[at + 1] += share * (wanted - s[at + 1])
    return float(s[at + 1])


@cell(rows=2)
def derivative(s: Array, at: int, x: float, share: float, dt: float) -> float:
    """Rate of change through a first-order lag; zero at the first sample. [any/s]"""
    if s[at] == 0.0:
        s[at] = 1.0
        s[at + 1] = x
    step = share * (x - s[at + 1])
    s[at + 1] += step
    return float(step / dt)


@cell(rows=1)
def leaky_integral(s: Array, at: int, rate: float, keep: float, gain: float) -> float:
    """Integral that forgets; `keep` and `gain` from `leak(hz, dt)`. [any·s]"""
    s[at] = keep * s[at] + gain * rate
    return float(s[at])


@cell(rows=3)
def trigger(s: Array, at: int, level: float, on: float, off: float, on_ticks: float, off_ticks: float, dwell_ticks: float) -> float:  # noqa: PLR0913, PLR0917 - thresholds and times are the whole point
    """1 from where `level` has been at or above `on` for `on_ticks` until it has been below `off` for `off_ticks`.

    Once active it stays for at least `dwell_ticks`. 0 ticks switch at once; NaN never switches; starts inactive.
    """
    active = s[at] > 0.0
    wish = level < off if active else level >= on
    waited = s[at + 1] + 1.0 if wish else 0.0
    needed = off_ticks if active else on_ticks
    stayed = s[at + 2] + 1.0
    if wish and waited > needed and (not active or stayed >= dwell_ticks):
        active = not active
        waited = 0.0
        stayed = 0.0
    s[at] = 1.0 if active else 0.0
    s[at + 1] = waited
    s[at + 2] = min(stayed, 1e12)
    return float(s[at])


@cell(rows=1)
def hold(s: Array, at: int, gate: float, hold_ticks: float) -> float:
    """1 while `gate` is above 0 and for `hold_ticks` after; starts closed."""
    if gate > 0.0:
        s[at] = hold_ticks + 1.0
    elif s[at] > 0.0:
        s[at] -= 1.0
    return 1.0 if s[at] > 0.0 else 0.0


@cell(rows=2)
def slew(s: Array, at: int, wanted: float, rise: float, fall: float) -> float:
    """Follow `wanted` by at most `rise` up and `fall` down per tick; starts on the first sample."""
    last = wanted if s[at] == 0.0 else s[at + 1]
    s[at] = 1.0
    s[at + 1] = min(max(wanted, last - fall), last + rise)
    return float(s[at + 1])


@cell(rows=2)
def keep_while(s: Array, at: int, value: float, gate: float) -> float:
    """`value`, but while `gate` is above 0 what it was when the gate opened; the first sample always passes."""
    if s[at] == 0.0 or not gate > 0.0:
        s[at] = 1.0
        s[at + 1] = value
    return float(s[at + 1])


@cell(rows=3)
def bumpless(s: Array, at: int, value: float, source: float, share: float) -> float:
    """`value`, without a jump when its `source` changes: what that would make it jump by dies away by `share` per tick."""
    if s[at] != source:
        s[at] = source
        s[at + 1] = s[at + 2] - value
    s[at + 1] -= share * s[at + 1]
    s[at + 2] = value + s[at + 1]
    return float(s[at + 2])


@cell(rows=2)
def running_mean_square(s: Array, at: int, x: float, share: float) -> float:
    """Mean square of the recent past, exponentially weighted; starts settled. [any²]"""
    square = x * x
    if s[at] == 0.0:
        s[at] = 1.0
        s[at + 1] = square
    s[at + 1] += share * (square - s[at + 1])
    return float(s[at + 1])


@cell(rows=2)
def peak_hold(s: Array, at: int, x: float, fall: float) -> float:
    """Largest recent value, sinking by `fall` per tick; starts on the first sample."""
    if s[at] == 0.0:
        s[at] = 1.0
        s[at + 1] = x
    s[at + 1] = max(x, s[at + 1] - fall)
    return float(s[at + 1])


def share(corner_hz: float | Array, dt: float) -> Any:
    """Share of the way per tick for `low_pass` and `derivative`; exact for a held input. [1]"""
    return -np.expm1(-2 * np.pi * np.asarray(corner_hz) * dt)


def ticks(time: float | Array, dt: float) -> Any:
    """A time in whole ticks. [1]"""
    return np.round(np.asarray(time, float) / dt)


def leak(hz: float | Array, dt: float) -> tuple[Any, Any]:
    """What a leaky integral keeps per tick, and what a tick of the rate adds; 0 Hz never forgets. [1], [s]"""
    rate = 2 * np.pi * np.asarray(hz, float)
    forgets = rate > 0.0
    return np.exp(-rate * dt), np.where(forgets, -np.expm1(-rate * dt) / np.where(forgets, rate, 1.0), dt)
