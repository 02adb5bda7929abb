"""Ground softening: take duty out over ground where less is better."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from dualduty.cells import keep_while, slew
from dualduty.each_tick import each_tick
from dualduty.parameters import param


@each_tick
@dataclass(frozen=True)
class GroundSoftening:
    """Duty taken out of what lies beneath over corrugation, whoops and rough ground, by side; the largest counts, not the sum.

    Use with `add`, when any of the three states, above base and body laws and below roll, pitch, flight and landing: those
    must keep their floors. The last amounts are kept after the states close, so that the demand stands while the layer
    fades out; from one ground to the next they move within `change_over`.

    Not where the base is already near soft: nothing is left to take out, and the trim flag says otherwise. Not as much
    compression over whoops: that is travel given away at every face; there take rebound out, against packing. For a limit
    whatever the laws beneath ask, lay a FixedDuty with `cap`, one layer for each state.

    Notes
    -----
    Why at all: on corrugation at 13.75 Hz with a valve of 10 ms or more, plain soft was better than every law tried
    (1.70 against 1.74 to 3.99 m/s² r.m.s.; computed on a corner model): dropping gains is worth more than a better law.
    """

    corrugation_compression: float = param(0.15, "1", 0.0, 1.0, "compression taken out over corrugation", said="pct", by_corner=True)
    corrugation_rebound: float = param(0.1, "1", 0.0, 1.0, "rebound taken out over corrugation", said="pct", by_corner=True)
    whoops_compression: float = param(0.0, "1", 0.0, 1.0, "compression taken out over whoops", said="pct", by_corner=True)
    whoops_rebound: float = param(0.1, "1", 0.0, 1.0, "rebound taken out over whoops", said="pct", by_corner=True)
    rough_compression: float = param(0.05, "1", 0.0, 1.0, "compression taken out over rough ground", said="pct", by_corner=True)
    rough_rebound: float = param(0.05, "1", 0.0, 1.0, "rebound taken out over rough ground", said="pct", by_corner=True)
    change_over: float = param(0.3, "s", 0.0, 5.0, "time in which all the duty would be taken out", said="ms")

    trims = True

    def prepared(self, dt: float) -> dict[str, Any]:
        """Step per tick."""
        return {"pace": dt / np.maximum(self.change_over, dt)}

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """Duty added, 0 or negative, on both sides."""
        none = 1.0 - max(now.corrugation, now.whoops, now.rough_ground)
        for corner in range(4):
            compression = max(
                now.corrugation * self.corrugation_compression[corner],
                now.whoops * self.whoops_compression[corner],
                now.rough_ground * self.rough_compression[corner],
            )
            rebound = max(
                now.corrugation * self.corrugation_rebound[corner],
                now.whoops * self.whoops_rebound[corner],
                now.rough_ground * self.rough_rebound[corner],
            )
            less_compression = keep_while(memory.compression[corner], compression, none)
            less_rebound = keep_while(memory.rebound[corner], rebound, none)
            out.compression[corner] = -slew(memory.compression_moves[corner], less_compression, self.pace, self.pace)
            out.rebound[corner] = -slew(memory.rebound_moves[corner], less_rebound, self.pace, self.pace)
