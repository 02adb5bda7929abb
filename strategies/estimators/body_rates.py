"""Net roll and pitch rate of the body."""

from __future__ import annotations

from dataclasses import dataclass

from dualduty.blocks import low_pass
from dualduty.contract import Array, Chunk, Memory, quantity
from dualduty.parameters import param


@dataclass(frozen=True)
class BodyRates:
    """Gyro rates, smoothed, with their slow drift taken off."""

    corner_hz: float = param(15.0, "Hz", 1.0, 100.0, "corner frequency of the smoothing")
    drift_hz: float = param(0.02, "Hz", 0.001, 0.2, "frequency below which a rate counts as sensor drift")

    gives = (
        quantity("net_roll_rate", "rad/s", "roll rate without drift, right side down positive", corners=1, mirror=-1),
        quantity("net_pitch_rate", "rad/s", "pitch rate without drift, nose down positive", corners=1),
    )

    def run(self, now: Chunk, memory: Memory) -> dict[str, Array]:
        """Net rates (1, time, case). [rad/s]"""
        return {
            "net_roll_rate": self._net(now.roll_rate, memory("roll")),
            "net_pitch_rate": self._net(now.pitch_rate, memory("pitch")),
        }

    def _net(self, rate: Array, memory: Memory) -> Array:
        drift = low_pass(rate, self.drift_hz, memory("drift"))
        return low_pass(rate - drift, self.corner_hz, memory("smooth"))
