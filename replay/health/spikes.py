"""Spikes: one to three samples far off both neighbours, which lie close together, in a stretch that is otherwise calm."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.kernels import F8, IN1, OUT1, OUT2, inline, kernel
from dualduty.units import STANDARD_GRAVITY, unit
from replay.health.channels import Channels, Row
from replay.health.effects import carries
from replay.health.finding import IMPAIRS, NOTE, Finding
from replay.health.slow_copy import SlowMotion

if TYPE_CHECKING:
    from replay.log import LogPart

Array = NDArray[np.float64]
GUARD: Final = 12  # samples on either side that say how calm it is
TIMES: Final = 8.0  # so many usual steps high; no spike among 40 minutes of simulated driving is lower, no shock higher
AGREE: Final = 0.3  # of its height by which both neighbours may differ
MOST: Final = 1000
ONE_BY_ONE: Final = 4  # of a channel are told by themselves; more in one line
FEW: Final = 2  # in a whole log harm nothing
OFTEN: Final = 0.5  # a minute from which they impair
# Least height, SI: below it a law hardly notices. Our choice.
FLOOR: Final = {
    "shaft_travel": 0.012, "specific_force_x": 2 * STANDARD_GRAVITY, "specific_force_y": 2 * STANDARD_GRAVITY,
    "specific_force_z": 2 * STANDARD_GRAVITY, "roll_rate": 0.6, "pitch_rate": 0.6, "yaw_rate": 0.6, "wheel_speed": 3.0,
    "steer_angle": 0.1, "seat_specific_force_z": 4 * STANDARD_GRAVITY, "hub_specific_force_z": 40 * STANDARD_GRAVITY,
}  # fmt: skip


@inline
def _usual_step(values: Any, at: int, width: int) -> float:
    """Mean step on either side of `width` samples."""
    step = 1e-12
    for away in range(1, GUARD):
        step += abs(values[at - away] - values[at - away - 1])
        if at + width + away < values.shape[0]:
            step += abs(values[at + width + away] - values[at + width + away - 1])
    return float(step / (2.0 * GUARD - 2.0))


@inline
def _height(values: Any, at: int, width: int) -> float:
    """How far all of `width` samples stand out on one side of both neighbours, signed; 0 where these don't agree."""
    before, after = values[at - 1], values[at + width]
    base = 0.5 * (before + after)
    sign = 1.0 if values[at] > base else -1.0
    least = np.inf
    for inside in range(width):
        least = min(least, sign * (values[at + inside] - base))
    return float(sign * least) if abs(after - before) < AGREE * least else 0.0


@kernel(IN1, IN1, F8, F8, OUT2, OUT1)
def _spikes(time, values, floor, times, found, count):  # type: ignore[no-untyped-def]  # noqa: ANN001, ANN202 - a kernel
    """Spikes in the middle of `values`, `GUARD` samples left out at either end: time, width in samples, height."""
    at = GUARD
    while at < values.shape[0] - GUARD:
        step = 1
        for width in range(1, 4 if abs(values[at] - values[at - 1]) > floor else 1):
            height = _height(values, at, width)
            if step == 1 and abs(height) > floor and abs(height) > times * _usual_step(values, at, width) and count[0] < found.shape[0]:
                found[int(count[0]), 0], found[int(count[0]), 1], found[int(count[0]), 2] = time[at], width, height
                count[0] += 1.0
                step = width + 1
        at += step


@dataclass
class _Watched:
    row: Row
    floor: float
    time: Array = field(default_factory=lambda: np.empty(0))  # the end of the part before, without blanks
    values: Array = field(default_factory=lambda: np.empty(0))
    found: Array = field(default_factory=lambda: np.empty((MOST, 3)))
    count: Array = field(default_factory=lambda: np.zeros(1))


class Spikes:
    """Looks at each sample between its neighbours."""

    def __init__(self, channels: Channels) -> None:
        named = [row for row in channels.rows.values() if row.signal.name in FLOOR]
        self._watched = {row.index: _Watched(row, FLOOR[row.signal.name]) for row in named}
        self._latest = 0.0

    def see(self, part: LogPart) -> None:
        """Take in the next part."""
        if len(part.time):
            self._latest = max(self._latest, float(part.time[-1]))
        for values, index in zip(part.values, part.rows.tolist(), strict=True):
            if index in self._watched and len(values):
                self._row(self._watched[index], part.time, values)

    def _row(self, watched: _Watched, time: Array, values: Array) -> None:
        if np.isnan(values.min()):
            there = ~np.isnan(values)
            time, values = time[there], values[there]
        time, values = np.concatenate([watched.time, time]), np.concatenate([watched.values, values])
        if len(values) > 2 * GUARD:
            _spikes(time, values, watched.floor, TIMES, watched.found, watched.count)
            time, values = time[-2 * GUARD :], values[-2 * GUARD :]
        watched.time, watched.values = time.copy(), values.copy()

    def end(self, motion: SlowMotion) -> list[Finding]:
        """What was found."""
        return [finding for watched in self._watched.values() if watched.count[0] for finding in self._of(watched)]

    def _of(self, watched: _Watched) -> list[Finding]:
        spikes = watched.found[: int(watched.count[0])]
        row, factor = watched.row, unit(watched.row.signal.said).factor
        often = len(spikes) > FEW and len(spikes) / max(self._latest / 60.0, 1.0) > OFTEN
        said = [f"{height / factor:+.3g} {row.signal.said} at {time:.3f} s" for time, _, height in spikes[:ONE_BY_ONE].tolist()]
        effect = f"shows in {carries(row.signal.name)}" if often else "the intake's limits catch most of it; peak values don't"
        found = Finding("spikes", row.label, np.nan, np.nan, 0.95, IMPAIRS if often else NOTE, "", effect, "", rows=(row.index,))
        remedy = "look at plug, screen and earth of this channel"
        if len(spikes) <= ONE_BY_ONE:
            singles = zip(said, spikes[:, 0].tolist(), spikes[:, 1].tolist(), strict=True)
            return [
                replace(found, start=time, end=time + 0.005 * width, text=f"{row.label}: spike of {words}", brief="spike", remedy=remedy)
                for words, time, width in singles
            ]
        text = f"{row.label}: {len(spikes)} spikes, e.g. {', '.join(said)}"
        return [replace(found, text=text, brief=f"{len(spikes)} spikes", remedy=remedy)]
