"""Driver trim: a few steps softer or firmer, as the driver asks."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from dualduty.cells import slew
from dualduty.each_tick import each_tick
from dualduty.parameters import param


@each_tick
@dataclass(frozen=True)
class DriverTrim:
    """Duty added per step of the driver's trim, by side and axle; softer steps take it out.

    Use with `add`, above base and body laws and below flight and landing, which are no matter of taste. Steps are whole
    and at most `most_steps` either way. A new choice counts at once at standstill and moves in at `change_over` per step
    while driving, so that no step of duty comes in the middle of a corner; it needs no speed and no movement.

    Not as a repair of a calibration that is too soft for the load: the driver doesn't know the margins, the payload layer does.

    Notes
    -----
    A step is taken once the signal is more than `firmly` away from the step that stands: a signal that rests between two
    steps doesn't flicker. Our own choice, no source.
    """

    compression_step: float = param(0.04, "1", 0.0, 0.2, "compression duty per step", said="pct", by_corner=True)
    rebound_step: float = param(0.04, "1", 0.0, 0.2, "rebound duty per step", said="pct", by_corner=True)
    most_steps: float = param(3.0, "1", 0.0, 5.0, "most steps either way")
    firmly: float = param(0.7, "1", 0.5, 0.95, "how far from the standing step the signal must be to change it")
    change_over: float = param(0.5, "s", 0.0, 5.0, "time to move by one step while driving", said="ms")

    trims = True
    does_without = ("driver_trim",)  # a car may have no such knob

    def prepared(self, dt: float) -> dict[str, Any]:
        """Steps per tick, and whole steps."""
        return {"pace": dt / np.maximum(self.change_over, dt), "most": np.floor(self.most_steps)}

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """Duty added on both sides."""
        if abs(now.driver_trim - memory.chosen) > self.firmly:
            memory.chosen = math.floor(now.driver_trim + 0.5)
        wanted = min(max(memory.chosen, -self.most), self.most)
        pace = 2.0 * self.most if now.standstill > 0.0 else self.pace
        steps = slew(memory.steps, wanted, pace, pace)
        for corner in range(4):
            out.compression[corner] = min(max(steps * self.compression_step[corner], -1.0), 1.0)
            out.rebound[corner] = min(max(steps * self.rebound_step[corner], -1.0), 1.0)
