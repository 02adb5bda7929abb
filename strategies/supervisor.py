"""Supervisor: fallback on sensor faults, command limits, slew and resolution; the last word before the valves."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numba import types
from numpy.typing import NDArray

from dualduty.kernels import IN3, OUT3, kernel
from dualduty.memory import Memory
from dualduty.parameters import param
from dualduty.signals import SIDES
from dualduty.trace import FLAG_FAULT, FLAG_LIMIT, FLAG_SLEW

Array = NDArray[np.float64]

ROUNDING: Final = 1e-9  # two duties closer than this are one
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

    ordered = (("lowest", "highest"),)

    def run(self, asked: Array, warmth: Array, mode: Array, closed: Array, memory: Memory) -> tuple[Array, NDArray[np.uint8]]:
        """Duties the valves get."""
        flags = np.zeros(asked.shape, np.uint8)
        duty = np.empty(asked.shape)
        for index, side in enumerate(SIDES):
            half = slice(4 * index, 4 * index + 4)
            fallback = self.fallback_compression if side == "compression" else self.fallback_rebound
            own = np.zeros(asked[half].shape, np.uint8)
            duty[half] = self._limited(np.ascontiguousarray(asked[half]), np.ascontiguousarray(closed[half]), fallback, own, memory(side))
            flags[half] = own
        return duty, flags

    def _limited(self, asked: Array, fault: Array, fallback: float | Array, flags: NDArray[np.uint8], memory: Memory) -> Array:
        """Duty of one side after fallback, limits, slew and resolution; fills `flags`."""
        dt = memory.dt

        def coefficients() -> tuple[object, ...]:
            return (fallback, self.lowest, self.highest, np.multiply(self.rise, dt), np.multiply(self.fall, dt), self.resolution)

        def kernel(*arrays: Array) -> None:
            _supervise_kernel(*arrays, flags)

        return memory.advance(kernel, (asked, fault), coefficients, 2)


@kernel(IN3, IN3, IN3, OUT3, OUT3, types.Array(types.uint8, 3, "C"))
def _supervise_kernel(asked: Array, fault: Array, table: Array, state: Array, out: Array, flags: NDArray[np.uint8]) -> None:
    # table: fallback, lowest, highest, rise, fall, resolution; state: started, last duty before rounding
    for corner in range(asked.shape[0]):
        for tick in range(asked.shape[1]):
            for case in range(asked.shape[2]):
                flag = 0
                wanted = asked[corner, tick, case]
                if fault[corner, tick, case] > 0.0:
                    wanted = table[0, corner, case]
                    flag |= FLAG_FAULT
                lowest, highest = table[1, corner, case], table[2, corner, case]
                limited = min(max(wanted, lowest), highest)
                if limited != wanted:
                    flag |= FLAG_LIMIT
                last = limited if state[0, corner, case] == 0.0 else state[1, corner, case]
                reached = min(max(limited, last - table[4, corner, case]), last + table[3, corner, case])
                if abs(reached - limited) > ROUNDING:
                    flag |= FLAG_SLEW
                state[0, corner, case] = 1.0
                state[1, corner, case] = reached
                step = table[5, corner, case]
                out[corner, tick, case] = min(max(np.round(reached / step) * step, lowest), highest)
                flags[corner, tick, case] = flag
