"""Quantisation: steps of a channel so coarse that they show as shaft speed or lie within reach of a threshold."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.kernels import F8, IN1, OUT1, OUT2, kernel
from dualduty.units import STANDARD_GRAVITY, unit
from replay.health.channels import Channels, Row
from replay.health.finding import IMPAIRS, NOTE, Finding
from replay.health.slow_copy import SlowMotion

if TYPE_CHECKING:
    from replay.log import LogPart

Array = NDArray[np.float64]
WINDOW: Final = 500  # values; their least step says how fine the channel is there
LEAST_CHANGES: Final = 60.0  # in a window, for its least step to mean something
MOST: Final = 100_000  # windows of a channel; 69 hours at 200 Hz
SPEED_CORNER: Final = 30.0  # Hz; the lag in the shaft speed estimate
COARSE_SPEED: Final = 0.05  # m/s r.m.s. of shaft speed made of steps alone; laws work from a few tenths of that upward
# Steps from which a channel is told, SI: about a fifth of the thresholds that lie on it. Our choice.
COARSE: Final = {
    "specific_force_x": 0.05 * STANDARD_GRAVITY, "specific_force_y": 0.05 * STANDARD_GRAVITY, "specific_force_z": 0.05 * STANDARD_GRAVITY,
    "roll_rate": np.deg2rad(1.0), "pitch_rate": np.deg2rad(1.0), "yaw_rate": np.deg2rad(1.0), "wheel_speed": 0.3,
    "steer_angle": np.deg2rad(0.6),
}  # fmt: skip


@kernel(IN1, F8, OUT1, OUT2, OUT1)
def _least_steps(values, least, state, windows, count):  # type: ignore[no-untyped-def]  # noqa: ANN001, ANN202 - a kernel
    """Least step and number of changes of each window; `state` is last value, values, least step, changes of the one on the way."""
    for sample in range(values.shape[0]):
        value = values[sample]
        if value != value:  # noqa: PLR0124 - NaN: no value
            continue
        step = abs(value - state[0])
        state[0] = value
        state[1] += 1.0
        if step > least:
            state[2] = min(state[2], step)
            state[3] += 1.0
        if state[1] >= WINDOW:
            if count[0] < windows.shape[0]:
                windows[int(count[0]), 0], windows[int(count[0]), 1] = state[2], state[3]
                count[0] += 1.0
            state[1], state[2], state[3] = 0.0, np.inf, 0.0


def speed_of_steps(step: float, rate: float, corner: float = SPEED_CORNER) -> float:
    """R.m.s. shaft speed that rounding to `step` [m] makes of nothing, through a lagged derivative at `rate` [Hz]. [m/s]

    Rounding error is taken as white with a deviation of step / √12 (Widrow 1956). For the lag a = 1 - exp(-2π corner / rate),
    the derivative of white noise of variance s² has the variance (a rate)² s² 2 / (2 - a).
    """
    share = -np.expm1(-2.0 * np.pi * corner / rate)
    return float(share * rate * step / np.sqrt(12.0) * np.sqrt(2.0 / (2.0 - share)))


@dataclass
class _Watched:
    row: Row
    limit: float
    state: Array = field(default_factory=lambda: np.array([np.nan, 0.0, np.inf, 0.0]))
    windows: Array = field(default_factory=lambda: np.empty((256, 2)))
    count: Array = field(default_factory=lambda: np.zeros(1))
    ends: list[float] = field(default_factory=list)  # of each window [s]


class Quantisation:
    """Looks at the least step of each channel, window by window."""

    def __init__(self, channels: Channels) -> None:
        named = [row for row in channels.rows.values() if row.signal.name in COARSE or row.signal.name == "shaft_travel"]
        self._watched = {row.index: _Watched(row, COARSE.get(row.signal.name, 0.0)) for row in named}
        self._rate = 0.0

    def see(self, part: LogPart) -> None:
        """Take in the next part."""
        if len(part.time) < 2:  # noqa: PLR2004 - no step
            return
        rate = 1.0 / float(np.median(np.diff(part.time[:1000])))
        for values, index in zip(part.values, part.rows.tolist(), strict=True):
            watched = self._watched.get(index)
            if watched is None:
                continue
            if watched.row.signal.name == "shaft_travel":
                watched.limit = COARSE_SPEED / speed_of_steps(1.0, rate)
                self._rate = rate
            self._windows(watched, part, np.ascontiguousarray(values))

    def _windows(self, watched: _Watched, part: LogPart, values: Array) -> None:
        before, room = int(watched.count[0]), len(values) // WINDOW + 2
        begun = int(watched.state[1])
        if before + room > len(watched.windows):
            grown = np.empty((min(2 * len(watched.windows) + room, MOST), 2))
            grown[:before] = watched.windows[:before]
            watched.windows = grown
        _least_steps(values, 1e-3 * watched.limit, watched.state, watched.windows, watched.count)
        ends = np.arange(WINDOW - begun - 1, WINDOW - begun - 1 + (int(watched.count[0]) - before) * WINDOW, WINDOW)
        there = part.time if not np.isnan(values.min()) else part.time[~np.isnan(values)]
        watched.ends += there[ends].tolist()

    def end(self, motion: SlowMotion) -> list[Finding]:
        """What was found."""
        return [found for watched in self._watched.values() for found in self._of(watched)]

    def _of(self, watched: _Watched) -> list[Finding]:
        windows = watched.windows[: int(watched.count[0])]
        lively = windows[:, 1] >= LEAST_CHANGES
        coarse = lively & (windows[:, 0] > watched.limit)
        if not coarse.any():
            return []
        step = float(np.median(windows[coarse, 0]))
        share = float(coarse.sum() / lively.sum())
        ends = np.array(watched.ends[: len(windows)])
        starts = np.concatenate([[0.0], ends[:-1]])
        at = (float(starts[coarse][0]), float(ends[coarse][-1]))
        part_of = share < 0.8  # noqa: PLR2004 - nearly the whole log
        where = f" from {at[0]:.0f} to {at[1]:.0f} s ({100 * share:.0f} % of the driving)" if part_of else ""
        said = f"{step / unit(watched.row.signal.said).factor:.3g} {watched.row.signal.said}"
        text = f"{watched.row.label}: moves in steps of {said}{where}"
        if watched.row.signal.name == "shaft_travel":
            shaft = speed_of_steps(step, self._rate)
            effect = f"steps alone make {shaft:.2g} m/s r.m.s. of shaft speed: velocity laws, duty reversals, shaft-speed histograms"
        else:
            effect = "thresholds within a few steps of the value toggle; rates of change are noise"
        severity = IMPAIRS if step > 2.0 * watched.limit else NOTE
        span = at if part_of else (np.nan, np.nan)
        sure = min(0.99, 1.0 - 0.5 ** float(coarse.sum() + 3))
        remedy = "more digits in the logger's set-up, or a finer input range"
        label, rows = watched.row.label, (watched.row.index,)
        return [Finding("quantisation", label, *span, sure, severity, text, effect, "coarse steps", remedy, rows=rows)]
