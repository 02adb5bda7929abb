"""Supervisor: fallback on sensor faults, command limits, slew and resolution; the last word before the valves."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.blocks import schmitt_trigger, slew_limit
from dualduty.memory import Memory
from dualduty.parameters import param
from dualduty.signals import SIDES
from dualduty.trace import FLAG_FAULT, FLAG_LIMIT, FLAG_SLEW

Array = NDArray[np.float64]

BODY_CHANNELS: Final = ("specific_force_x", "specific_force_y", "specific_force_z", "roll_rate", "pitch_rate", "yaw_rate")


@dataclass(frozen=True)
class Supervisor:
    """Fallback duties where a sensor failed, then limits, slew and the command's resolution.

    A failed travel sensor puts its own corner on the fallback; a failed body channel that the strategy reads, or the
    loss of all four wheel speeds, puts all corners on it.
    """

    fault_after: float = param(0.05, "s", 0.0, 2.0, "how long a channel must be unbelievable before the fallback comes in", said="ms")
    fault_clears: float = param(0.5, "s", 0.0, 10.0, "how long it must be believed again before the fallback goes", said="ms")
    fallback_compression: float = param(0.5, "1", 0.0, 1.0, "compression duty on a sensor fault", said="pct", by_corner=True)
    fallback_rebound: float = param(0.5, "1", 0.0, 1.0, "rebound duty on a sensor fault", said="pct", by_corner=True)
    lowest: float = param(0.0, "1", 0.0, 1.0, "lowest duty commanded", said="pct", by_corner=True)
    highest: float = param(1.0, "1", 0.0, 1.0, "highest duty commanded", said="pct", by_corner=True)
    rise: float = param(40.0, "1/s", 0.5, 1000.0, "fastest rise of a command", said="pct_s", by_corner=True)
    fall: float = param(40.0, "1/s", 0.5, 1000.0, "fastest fall of a command", said="pct_s", by_corner=True)
    resolution: float = param(0.005, "1", 0.0001, 0.1, "smallest step of a command", said="pct")

    def run(
        self, asked: dict[str, Array], valid: dict[str, Array], used: tuple[str, ...], memory: Memory
    ) -> tuple[dict[str, Array], dict[str, NDArray[np.uint8]]]:
        """Duties the valves get, and what the supervisor did to them.

        asked : dict by side of (4, time, case) arrays
            Duties of the layer stack. [1]
        valid : dict by signal of (corner, time, case) arrays
            1 where the intake believed the channel.
        used : tuple of str
            Signals that the strategy reads; others can't cause a fault.
        """
        fault = self._fault(valid, used, memory)
        duty, flags = {}, {}
        for side in SIDES:
            fallback = self.fallback_compression if side == "compression" else self.fallback_rebound
            safe = np.where(fault > 0.0, fallback, asked[side])
            limited = np.minimum(np.maximum(safe, self.lowest), self.highest)
            slewed = slew_limit(limited, self.rise, self.fall, memory(f"slew {side}"))
            stepped = np.round(slewed / self.resolution) * self.resolution
            duty[side] = np.minimum(np.maximum(stepped, self.lowest), self.highest)
            flags[side] = _flags(fault, safe != limited, np.abs(slewed - limited) > 1e-9)  # noqa: PLR2004 - rounding only
        return duty, flags

    def _fault(self, valid: dict[str, Array], used: tuple[str, ...], memory: Memory) -> Array:
        travel = 1.0 - valid["shaft_travel"] if "shaft_travel" in used else np.zeros_like(valid["shaft_travel"])
        body = np.zeros_like(valid["yaw_rate"])
        for name in BODY_CHANNELS:
            if name in used:
                body = np.maximum(body, 1.0 - valid[name])
        if "wheel_speed" in used:
            body = np.maximum(body, 1.0 - valid["wheel_speed"].max(axis=0, keepdims=True))
        bad = np.maximum(travel, body)
        return schmitt_trigger(bad, 0.5, 0.5, memory("fault"), on_delay=self.fault_after, off_delay=self.fault_clears)


def _flags(fault: Array, limited: NDArray[np.bool_], slewed: NDArray[np.bool_]) -> NDArray[np.uint8]:
    return (
        (fault > 0.0).astype(np.uint8) * np.uint8(FLAG_FAULT)
        + limited.astype(np.uint8) * np.uint8(FLAG_LIMIT)
        + slewed.astype(np.uint8) * np.uint8(FLAG_SLEW)
    )
