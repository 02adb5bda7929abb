"""Pitch hold: support the front in compression and hold the rear in rebound while the vehicle is slowed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dualduty.contract import Array, Chunk, Duty, Memory
from dualduty.lookup import between
from dualduty.parameters import param


@dataclass(frozen=True)
class PitchHold:
    """Floors for braking: front compression and rear rebound, plus a share of the pitch rate. Use with `raise`."""

    front_compression: float = param(0.5, "1", 0.0, 1.0, "compression duty at the front", said="pct")
    rear_rebound: float = param(0.5, "1", 0.0, 1.0, "rebound duty at the rear", said="pct")
    rate_gain: float = param(0.3, "s/rad", 0.0, 5.0, "duty per pitch rate, on the sides that resist it")

    def run(self, now: Chunk, memory: Memory) -> Duty:
        """Duty of both sides (4, time, case)."""
        nose_down = now.net_pitch_rate * self.rate_gain
        front = between(0.0, np.maximum(self.front_compression, nose_down), 1.0)
        rear = between(0.0, np.maximum(self.rear_rebound, nose_down), 1.0)
        return Duty(
            compression=_axles(front, between(0.0, -nose_down, 1.0)),
            rebound=_axles(between(0.0, -nose_down, 1.0), rear),
        )


def _axles(front: Array, rear: Array) -> Array:
    return np.concatenate([front, front, rear, rear])
