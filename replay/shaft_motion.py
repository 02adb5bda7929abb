"""Shaft travel and speed of a recording at its own rate, with hindsight: nothing lags, nothing is held; and the duties beside it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.signals import CORNERS, SIDES
from replay.log import Log, LogPart

Array = NDArray[np.float64]

CUT_OFF: Final = 40.0  # Hz; wheel hop lies at 10 to 15 Hz, valves and hoses ring above (common practice)
HIGHEST: Final = 0.3  # of the sampling rate; nearer to its half there is no room to cut off
HOP: Final = 15.0  # Hz, at which the error of the derivative is told
PERIODS: Final = 4.0  # of the cut-off within the window: passes 0.7 of the cut-off whole, and hides nothing longer than 0.1 s
KAISER: Final = 4.0  # shape of the window: what lies well above the cut-off is 45 dB down (Kaiser 1974)
FIVE_POINTS: Final = np.array([-1.0, 8.0, 0.0, -8.0, 1.0]) / 12.0  # folded with five samples: the slope at their middle, exact for quartics
LEAST_WINDOW: Final = 5  # values, below which a spline says nothing
BLOCK: Final = 20.0  # s
PAD: Final = 0.5  # s on either side; a spline forgets its ends within some samples
GAP_STEPS: Final = 2.5  # a longer distance between values is a gap: one lost sample is bridged
HELD: Final = 0.2  # s; an older duty is not known


@dataclass(frozen=True, eq=False)
class Derivative:
    """A low-pass and a slope in one, even about the middle of its window: nothing lags.

    smooth, weights : (sample,) arrays
        Of the low-pass [1], and of the slope of what it passes [1/s].
    step : float
        Between samples. [s]
    """

    smooth: Array
    weights: Array
    step: float

    @property
    def window(self) -> int:
        """Samples that one speed is made of."""
        return len(self.weights)

    @property
    def noise_gain(self) -> float:
        """R.m.s. of the speed per r.m.s. of white noise in travel. [1/s]"""
        return float(np.sqrt((self.weights**2).sum()))

    @property
    def cut_off(self) -> float:
        """Where the slope is 3 dB down. [Hz]"""
        hz = np.linspace(0.002, 0.5, 499) / self.step
        below = np.flatnonzero(self.passed(hz) < np.sqrt(0.5))
        return float(hz[below[0]]) if below.size else float(hz[-1])

    @property
    def error_at_hop(self) -> float:
        """Share of a slope at 15 Hz that is lost. [1]"""
        return 1.0 - float(self.passed(np.array([min(HOP, 0.45 / self.step)]))[0])

    def passed(self, hz: Array) -> Array:
        """Share of the true slope of a sine that is left, by frequency: any array. [Hz]"""
        at = (np.arange(self.window) - self.window // 2) * self.step
        turns = 2.0 * np.pi * hz[..., None]
        return np.asarray((-self.weights * np.sin(turns * at)).sum(axis=-1) / turns[..., 0])

    def slope(self, travel: Array) -> Array:
        """Speed at each of (time,) travels, `step` apart; half a window at either end is wrong. [m/s]"""
        return np.convolve(travel, self.weights, mode="same")

    def noise(self, travel: Array) -> float:
        """R.m.s. of white noise in travel, from what the low-pass takes away: its median, so that stops don't count. [m]"""
        inside = slice(self.window, -self.window)
        left = (travel - np.convolve(travel, self.smooth, mode="same"))[inside]
        kept = 1.0 - 2.0 * self.smooth[len(self.smooth) // 2] + (self.smooth**2).sum()
        return 1.4826 * float(np.median(np.abs(left))) / float(np.sqrt(kept)) if left.size else float("nan")


def derivative(step: float, cut_off: float = CUT_OFF) -> Derivative:
    """For samples `step` apart [s], up to about `cut_off` [Hz] or as high as the rate allows: a Kaiser low-pass, then its slope."""
    from scipy.signal import firwin

    hz = min(cut_off, HIGHEST / step)
    half = max(round(0.5 * PERIODS / (hz * step)), 1)
    smooth = firwin(2 * half + 1, hz, window=("kaiser", KAISER), fs=1.0 / step)
    return Derivative(smooth, np.convolve(smooth, FIVE_POINTS) / step, step)


@dataclass(frozen=True)
class Motion:
    """A stretch of one corner at equal steps.

    time, travel, speed : (time,) arrays
        Speed positive in compression; both NaN in gaps and near them. [s], [m], [m/s]
    duties : (2, time) array
        Compression and rebound duty, NaN where not known. [1]
    noise : float
        White noise in travel, r.m.s. [m]
    """

    corner: int
    time: Array
    travel: Array
    speed: Array
    duties: Array
    noise: float


@dataclass
class _Samples:
    """What has come of one row and is still needed."""

    time: Array = field(default_factory=lambda: np.empty(0))
    values: Array = field(default_factory=lambda: np.empty(0))
    reached: float = -np.inf

    def add(self, time: Array, values: Array) -> None:
        known = np.isfinite(values)
        self.time = np.concatenate([self.time, time[known]])
        self.values = np.concatenate([self.values, values[known]])
        self.reached = float(time[-1]) if len(time) else np.inf

    def drop(self, before: float) -> None:
        keep = max(int(np.searchsorted(self.time, before)) - 1, 0)  # the last one before stays: it is held
        self.time, self.values = self.time[keep:], self.values[keep:]


def shaft_motion(log: Log, window: tuple[float, float] = (0.0, np.inf), cut_off: float = CUT_OFF) -> Iterator[tuple[Derivative, Motion]]:
    """Motion of all corners, block by block, between two times since the log's first stamp [s]; memory doesn't grow with the log."""
    rows = {name: log.layout.rows[name].start for name in log.layout.names}
    wanted = {("travel", corner): rows["shaft_travel"] + corner for corner in range(len(CORNERS))}
    for side in SIDES:
        name = next((name for name in (f"applied_{side}", f"logged_{side}") if name in rows and log.has(name)), None)
        wanted |= {(side, corner): rows[name] + corner for corner in range(len(CORNERS))} if name else {}
    found = {entry.row for entry in log.resolved.found}
    held = {key: _Samples() for key, row in wanted.items() if row in found}
    row_of = {key: row for key, row in wanted.items() if key in held}
    yield from _blocks(log.parts(()), row_of, held, window, cut_off)


def _blocks(
    parts: Iterable[LogPart], row_of: dict[tuple[str, int], int], held: dict[tuple[str, int], _Samples], window: tuple[float, float],
    cut_off: float,
) -> Iterator[tuple[Derivative, Motion]]:  # fmt: skip
    rule: Derivative | None = None
    start = max(window[0], 0.0)
    last = -np.inf
    for part in parts:
        if len(part.time) and part.time[0] > window[1] + PAD and all(one.reached > window[1] + PAD for one in held.values()):
            break
        last = max(last, float(part.time[-1])) if len(part.time) else last
        _take(part, row_of, held, start)
        rule = rule or _rule(held, cut_off)
        while (
            rule and held and min(one.reached for one in held.values()) > (end := start + BLOCK) + PAD and end <= last and end < window[1]
        ):
            yield from _motions(held, rule, (start, end))
            start = end
    if rule and held:
        yield from _motions(held, rule, (start, min(last, window[1])))


def _take(part: LogPart, row_of: dict[tuple[str, int], int], held: dict[tuple[str, int], _Samples], start: float) -> None:
    place = {int(row): index for index, row in enumerate(part.rows)}
    for key, samples in held.items():
        if row_of[key] in place:
            samples.add(part.time, part.values[place[row_of[key]]])
            samples.drop(start - PAD)


def _rule(held: dict[tuple[str, int], _Samples], cut_off: float) -> Derivative | None:
    """The derivative at the rate of the travels, once some have come."""
    steps = [np.diff(samples.time) for (name, _), samples in held.items() if name == "travel" and len(samples.time) > 2 * LEAST_WINDOW]
    if not steps:
        return None
    every = np.concatenate(steps)
    usual = every[every <= GAP_STEPS * np.median(every)]
    return derivative(round(float(usual.mean()), 6), cut_off)  # the mean: stamps that were cut to a clock's ticks jump to and fro


def _motions(held: dict[tuple[str, int], _Samples], rule: Derivative, span: tuple[float, float]) -> Iterator[tuple[Derivative, Motion]]:
    first, end = int(np.ceil(span[0] / rule.step - 1e-9)), int(np.ceil(span[1] / rule.step - 1e-9))
    pad = round(PAD / rule.step)
    grid = np.asarray(np.arange(first - pad, end + pad) * rule.step, float)
    core = slice(pad, pad + end - first)
    for corner in range(len(CORNERS)):
        samples = held.get(("travel", corner))
        if samples is None or end <= first or len(grid) < rule.window:
            continue
        travel, near_gap = _on_grid(samples, grid, rule)
        speed = rule.slope(travel)
        bad = np.where(near_gap, np.nan, 0.0)
        duties = np.stack([_held(held.get((side, corner)), grid[core]) for side in SIDES])
        yield rule, Motion(corner, grid[core], (travel + bad)[core], (speed + bad)[core], duties, rule.noise(travel))


def _on_grid(samples: _Samples, grid: Array, rule: Derivative) -> tuple[Array, NDArray[np.bool_]]:
    """Travel at equal steps, by a cubic spline through what was recorded, and where a gap is too near to say."""
    from scipy.interpolate import CubicSpline

    time, values = samples.time, samples.values
    rising = np.concatenate([[True], np.diff(time) > 0.0]) if len(time) else np.empty(0, bool)
    time, values = time[rising], values[rising]
    if len(time) < LEAST_WINDOW:
        return np.zeros(len(grid)), np.ones(len(grid), bool)
    travel = CubicSpline(time, values)(np.clip(grid, time[0], time[-1]))
    after = np.clip(np.searchsorted(time, grid), 1, len(time) - 1)
    gap = (time[after] - time[after - 1] > GAP_STEPS * rule.step) | (grid < time[0]) | (grid > time[-1])
    travel = np.where(gap, np.interp(grid, time, values), travel)  # a spline swings in a gap
    near = np.convolve(gap, np.ones(rule.window), mode="same") > 0.5  # noqa: PLR2004 - one at least
    return travel, near


def _held(samples: _Samples | None, grid: Array) -> Array:
    """The last value that had come at each time; NaN where it is old or there is none."""
    if samples is None or not len(samples.time):
        return np.full(len(grid), np.nan)
    at = np.searchsorted(samples.time, grid + 1e-9, side="right") - 1
    age = grid - samples.time[np.maximum(at, 0)]
    return np.where((at >= 0) & (age <= HELD), samples.values[np.maximum(at, 0)], np.nan)


def known_corners(log: Log, names: Sequence[str] = ("shaft_travel",)) -> list[int]:
    """Corners of which the log has all the named signals."""
    found = {entry.row for entry in log.resolved.found}
    return [corner for corner in range(len(CORNERS)) if all(log.layout.rows[name].start + corner in found for name in names)]
