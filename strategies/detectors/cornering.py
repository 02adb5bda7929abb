"""Cornering, with its side: opened by yaw rate times speed, so that a bank or a side slope does not fool it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dualduty.blocks import low_pass, schmitt_trigger
from dualduty.contract import Array, Chunk, Memory, State, state
from dualduty.lookup import between
from dualduty.parameters import param
from dualduty.units import STANDARD_GRAVITY


@dataclass(frozen=True)
class Cornering:
    """`cornering` when yaw rate times speed is large; `cornering_outer` and `cornering_inner` say which corners.

    The strength grows from 0 at the switch-off level to 1 at `full`.

    Notes
    -----
    On at 0.2 to 0.3 g, off at 0.15 to 0.2 g, 1 to 3 Hz smoothing: common practice, from memory.
    """

    smooth_hz: float = param(3.0, "Hz", 0.3, 20.0, "corner frequency of the smoothing")
    on: float = param(0.25 * STANDARD_GRAVITY, "m/s²", 0.3, 12.0, "lateral acceleration that opens the state", said="g")
    off: float = param(0.18 * STANDARD_GRAVITY, "m/s²", 0.2, 12.0, "lateral acceleration below which it closes", said="g")
    full: float = param(0.6 * STANDARD_GRAVITY, "m/s²", 0.5, 15.0, "lateral acceleration at full strength", said="g")
    on_delay: float = param(0.02, "s", 0.0, 1.0, "how long it must be above the level to open", said="ms")
    off_delay: float = param(0.25, "s", 0.0, 2.0, "how long it must be below the level to close", said="ms")

    ordered = (("off", "on"), ("off", "full"))
    gives = (
        state("cornering", "the vehicle turns with more than the set lateral acceleration"),
        state("cornering_outer", "this corner is on the outside of the turn", corners=4),
        state("cornering_inner", "this corner is on the inside of the turn", corners=4),
    )

    def run(self, now: Chunk, memory: Memory) -> dict[str, State]:
        """States `cornering` (1, time, case), `cornering_outer` and `cornering_inner` (4, time, case)."""
        lateral = low_pass(now.yaw_rate * now.vehicle_speed, self.smooth_hz, memory("lateral"))
        left, right = self._side(lateral, memory("left")), self._side(-lateral, memory("right"))
        strength = between(0.0, (np.abs(lateral) - self.off) / np.maximum(self.full - self.off, 0.1), 1.0)
        everywhere = np.concatenate([strength, strength, strength, strength])
        return {
            "cornering": State(np.maximum(left, right), strength),
            "cornering_outer": State(_corners(right, left), everywhere),
            "cornering_inner": State(_corners(left, right), everywhere),
        }

    def _side(self, lateral: Array, memory: Memory) -> Array:
        return schmitt_trigger(lateral, self.on, self.off, memory, on_delay=self.on_delay, off_delay=self.off_delay)


def _corners(left: Array, right: Array) -> Array:
    """Values for left-hand and right-hand corners as (4, time, case)."""
    return np.concatenate([left, right, left, right])
