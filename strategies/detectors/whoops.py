"""Whoops: a row of mounds taken at speed, told by large swings of the front travel in their rhythm, the rear swinging against it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dualduty.band_cell import band, band_of
from dualduty.cells import cell, trigger
from dualduty.contract import state
from dualduty.each_tick import each_tick, ticks
from dualduty.parameters import param

Array = NDArray[np.float64]


@cell(rows=4)
def swing(s: Array, at: int, x: float, size: float) -> float:
    """Ticks from one turning point to the next, at the tick at which the next is sure: `x` has come back by `size`; else 0."""
    s[at + 2] += 1.0  # since the furthest point
    s[at + 3] += 1.0  # since the last turning point
    if s[at] == 0.0:
        s[at] = 1.0
        s[at + 1] = x
    ahead = s[at] * (x - s[at + 1])
    length = 0.0
    if ahead > 0.0:
        s[at + 1] = x
        s[at + 2] = 0.0
    elif ahead <= -size:
        length = s[at + 3] - s[at + 2]
        s[at + 3] = s[at + 2]
        s[at] = -s[at]
        s[at + 1] = x
        s[at + 2] = 0.0
    return float(length)


@each_tick
@dataclass(frozen=True)
class Whoops:
    """Open after `swings` half cycles of the front travel in a row, each at least `swing_size` of the stroke and as long as mounds make it.

    The rear must swing against the front (pitch), or at least not with it: mounds are about as far apart as twice the wheelbase; waves
    that lift the whole car (a crest, a dip) are none. A landing makes one such swing, seldom two.

    Flight between two crests belongs to the rhythm: nothing waits for the ground here, unlike in `GroundBands`.

    Notes
    -----
    1 to 3 Hz, pitch in antiphase, more than 30 % of travel, two cycles or more, 0.7 to 1.5 s to confirm: common practice, from memory.
    """

    swing_size: float = param(0.3, "1", 0.05, 1.0, "least swing from turning point to turning point, as a share of the stroke", said="pct")
    swings: float = param(4.0, "1", 2.0, 12.0, "half cycles in a row that open the state")
    slowest_hz: float = param(0.8, "Hz", 0.3, 3.0, "slowest rhythm")
    fastest_hz: float = param(3.2, "Hz", 0.8, 8.0, "fastest rhythm")
    against: float = param(1.0, "1", 0.0, 10.0, "least mean square of front less rear over that of front plus rear")
    window: float = param(1.0, "s", 0.2, 5.0, "over how long these are averaged")
    slowest: float = param(3.0, "m/s", 0.5, 15.0, "speed below which mounds are climbed one by one", said="km/h")
    off_delay: float = param(0.1, "s", 0.0, 3.0, "how long the rhythm must be lost to close", said="ms")
    stays: float = param(0.5, "s", 0.0, 5.0, "shortest time open", said="ms")
    stroke: float = param(0.28, "m", 0.03, 1.0, "shaft travel from full extension to metal", said="mm", by_corner=True, from_car="stroke")

    ordered = (("slowest_hz", "fastest_hz"),)
    gives = (state("whoops", "a row of mounds swings front and rear against each other"),)
    does_without = ("shaft_travel",)

    def prepared(self, dt: float) -> dict[str, Any]:
        """Filter, share of the mean, lengths of half cycles and whole ticks."""
        warp, width = band_of(self.slowest_hz, self.fastest_hz, dt)
        return {
            "warp": warp,
            "width": width,
            "average": -np.expm1(-2.0 * dt / np.asarray(self.window)),
            "shortest": 0.5 / (np.asarray(self.fastest_hz) * dt),
            "longest": 0.5 / (np.asarray(self.slowest_hz) * dt),
            "off_ticks": ticks(self.off_delay, dt),
            "stay_ticks": ticks(self.stays, dt),
        }

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """One tick: the swing of both axles, and how many of the front's came in rhythm."""
        axles = 0.0
        against = 0.0
        front = 0.0
        for axle in range(2):
            left, right = 2 * axle, 2 * axle + 1
            one = left if now.shaft_travel_valid[left] > 0.0 else right
            other = right if now.shaft_travel_valid[right] > 0.0 else left
            share = 0.5 * (now.shaft_travel[one] / self.stroke[one] + now.shaft_travel[other] / self.stroke[other])
            if memory.begun[axle] <= 0.0:
                memory.begun[axle] = 1.0
                memory.begin[axle] = share
            moved = band(memory.swing[axle], share - memory.begin[axle], self.warp, self.width)
            axles += moved
            against += moved if axle == 0 else -moved
            front = moved if axle == 0 else front
        memory.with_rear += self.average * (axles * axles - memory.with_rear)
        memory.against_rear += self.average * (against * against - memory.against_rear)
        length = swing(memory.front, front, self.swing_size)
        memory.waited += 1.0
        if length > 0.0:
            memory.count = memory.count + 1.0 if self.shortest <= length <= self.longest else 0.0
            memory.waited = 0.0
        if memory.waited > 1.5 * self.longest or abs(now.vehicle_speed) < self.slowest:
            memory.count = 0.0
        opens = memory.count >= self.swings and memory.against_rear >= self.against * memory.with_rear
        level = 1.0 if opens else min(memory.count, 0.5)
        out.whoops = trigger(memory.rhythm, level, 1.0, 0.5, 0.0, self.off_ticks, self.stay_ticks)
        out.whoops_strength = min(memory.count / max(self.swings, 1.0), 1.0)
