"""Supervisor: drive modes change without a bump, hot dampers get less, then limits, slew and resolution: the last word."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numba import types
from numpy.typing import NDArray

from dualduty.kernels import IN1, IN3, OUT3, inline, kernel
from dualduty.lookup import full
from dualduty.memory import Memory, coefficient_tables
from dualduty.parameters import param
from dualduty.trace import FLAG_FAULT, FLAG_HEAT, FLAG_LIMIT, FLAG_SLEW

Array = NDArray[np.float64]
Flags = NDArray[np.uint8]

ROUNDING: Final = 1e-9  # two duties closer than this are one
ROWS: Final = 8  # four compression, four rebound
# rows of the table, (row, side and corner, case)
LOWEST, HIGHEST, HOT_HIGHEST, HEAT_FROM, HEAT_SPAN, RISE, FALL, RESOLUTION, UNBLEND = range(9)
# slots of the state: mode and what was wanted at the last tick, the step carried on and its share left, the slewed duty
STARTED, MODE, WANTED, STEP, LEFT, REACHED = range(6)
SLOTS: Final = 6


@inline
def _begin(asked: float, mode: float, state: Array, row: int, case: int) -> None:
    """At the first tick of a call: carry on as a step what a change of drive mode would make jump."""
    if state[STARTED, row, case] == 0.0:
        state[STARTED, row, case] = 1.0
        state[LEFT, row, case] = 0.0
        state[REACHED, row, case] = np.nan  # the slew limit starts at the first duty
    elif mode != state[MODE, row, case]:
        state[STEP, row, case] = state[WANTED, row, case] - asked
        state[LEFT, row, case] = 1.0
    state[MODE, row, case] = mode


@inline
def _wanted(asked: float, unblend: float, state: Array, row: int, case: int) -> float:
    """What is asked for, and as much of the step at the last change of drive mode as is left."""
    left = state[LEFT, row, case]
    if left > 0.0:
        asked += left * state[STEP, row, case]
        state[LEFT, row, case] = max(left - unblend, 0.0)
    state[WANTED, row, case] = asked
    return asked


@inline
def highest_when_warm(warmth: float, table: Array, row: int, case: int) -> float:
    """The highest command falls in a straight line over the span of temperatures, never below the lowest."""
    share = min(max((warmth - table[HEAT_FROM, row, case]) / table[HEAT_SPAN, row, case], 0.0), 1.0)
    highest = table[HIGHEST, row, case]
    fallen = highest + share * (min(table[HOT_HIGHEST, row, case], highest) - highest)
    return float(max(fallen, table[LOWEST, row, case]))


@inline
def _slewed(wanted: float, table: Array, state: Array, row: int, case: int) -> float:
    """No faster than valves and passengers bear; starts at the first duty."""
    last = state[REACHED, row, case]
    reached = wanted if np.isnan(last) else min(max(wanted, last - table[FALL, row, case]), last + table[RISE, row, case])
    state[REACHED, row, case] = reached
    return reached


@kernel(IN3, IN3, IN1, IN3, IN3, OUT3, OUT3, types.Array(types.uint8, 3, "C"))
def _supervise_kernel(  # noqa: PLR0913, PLR0917 - a kernel takes its arrays one by one
    asked: Array, warmth: Array, mode: Array, closed: Array, table: Array, state: Array, duty: Array, flags: Flags
) -> None:
    for tick in range(asked.shape[1]):
        for row in range(ROWS):
            for case in range(asked.shape[2]):
                if tick == 0:
                    _begin(asked[row, tick, case], mode[case], state, row, case)
                flag = FLAG_FAULT if closed[row, tick, case] > 0.0 else 0
                wanted = _wanted(asked[row, tick, case], table[UNBLEND, row, case], state, row, case)
                lowest, highest = table[LOWEST, row, case], table[HIGHEST, row, case]
                limited = min(max(wanted, lowest), highest)
                if limited != wanted:
                    flag |= FLAG_LIMIT
                bearable = highest_when_warm(warmth[row % 4, tick, case], table, row, case)
                if limited > bearable:
                    limited = bearable
                    flag |= FLAG_HEAT
                reached = _slewed(limited, table, state, row, case)
                if abs(reached - limited) > ROUNDING:
                    flag |= FLAG_SLEW
                step = table[RESOLUTION, row, case]
                duty[row, tick, case] = min(max(np.round(reached / step) * step, lowest), highest)
                flags[row, tick, case] = flag


@dataclass(frozen=True)
class Supervisor:
    """Blends drive modes, takes firmness from hot dampers, keeps commands within limits, slew and resolution.

    When a case changes drive mode, the step that this makes in the wanted duty is carried on and fades out in a straight
    line over `mode_blend`. Above `heat_from` the highest command falls, at `heat_full` it is `hot_highest`: a damper that
    works less heats less. The fallback duties are what the layer stack starts from.

    Notes
    -----
    Temperatures at which oil and seals suffer differ by damper: the defaults are common practice, not a maker's.
    """

    fallback_compression: float = param(0.5, "1", 0.0, 1.0, "compression duty on a sensor fault", said="pct", by_corner=True)
    fallback_rebound: float = param(0.5, "1", 0.0, 1.0, "rebound duty on a sensor fault", said="pct", by_corner=True)
    lowest_compression: float = param(0.0, "1", 0.0, 1.0, "lowest compression duty commanded", said="pct", by_corner=True)
    highest_compression: float = param(1.0, "1", 0.0, 1.0, "highest compression duty commanded", said="pct", by_corner=True)
    lowest_rebound: float = param(0.0, "1", 0.0, 1.0, "lowest rebound duty commanded", said="pct", by_corner=True)
    highest_rebound: float = param(1.0, "1", 0.0, 1.0, "highest rebound duty commanded", said="pct", by_corner=True)
    heat_protection: float = param(0.0, "1", 0.0, 1.0, "1 takes firmness from hot dampers, 0 doesn't")
    heat_from: float = param(120.0, "°C", 0.0, 300.0, "damper temperature from which the highest command falls", by_corner=True)
    heat_full: float = param(150.0, "°C", 0.0, 300.0, "damper temperature at which it has fallen all the way", by_corner=True)
    hot_highest_compression: float = param(0.6, "1", 0.0, 1.0, "highest compression duty of a hot damper", said="pct", by_corner=True)
    hot_highest_rebound: float = param(0.6, "1", 0.0, 1.0, "highest rebound duty of a hot damper", said="pct", by_corner=True)
    rise: float = param(40.0, "1/s", 0.5, 1000.0, "fastest rise of a command", said="pct_s", by_corner=True)
    fall: float = param(40.0, "1/s", 0.5, 1000.0, "fastest fall of a command", said="pct_s", by_corner=True)
    resolution: float = param(0.005, "1", 0.0001, 0.1, "smallest step of a command", said="pct")
    mode_blend: float = param(0.3, "s", 0.0, 5.0, "time over which a change of drive mode comes in", said="ms")

    ordered = (("lowest_compression", "highest_compression"), ("lowest_rebound", "highest_rebound"), ("heat_from", "heat_full"))

    def run(self, asked: Array, warmth: Array, mode: Array, closed: Array, memory: Memory) -> tuple[Array, Flags]:
        """Duties the valves get, and what the supervisor did to them.

        asked : (8, time, case) array
            Duties of the layer stack, four compression, four rebound. [1]
        warmth : (4, time, case) array
            Estimated temperature of each damper. [°C]
        mode : (case,) array
            Drive-mode index, constant within a call.
        closed : (8, time, case) array
            Share to which the fallback duties stand instead of the base. [1]

        Returns
        -------
        duty, flags : (8, time, case) arrays
            [1]; FLAG_* of `dualduty.trace`, uint8.
        """
        node = memory("commands")
        shape = asked.shape
        table = node.derived(lambda: self._table(shape[2], memory.dt))
        state = np.zeros((SLOTS, ROWS, shape[2])) if node.state is None else node.state.copy()
        duty, flags = np.empty(shape), np.empty(shape, np.uint8)
        _supervise_kernel(full(asked, shape), full(warmth, (4, *shape[1:])), mode, full(closed, shape), table, state, duty, flags)
        node.state = state
        return duty, flags

    def fallback(self) -> Array:
        """Fallback duties as the stack takes them, (8, 1 or case, 1)."""
        table = coefficient_tables((self.fallback_compression, self.fallback_rebound), (np.zeros((4, 1, 1)),))[0]
        return np.ascontiguousarray(table.reshape(ROWS, -1, 1))

    def _table(self, cases: int, dt: float) -> Array:
        """Parameters as the kernel takes them, (parameter, side and corner, case)."""
        span = np.maximum(np.subtract(self.heat_full, self.heat_from), 1e-6)
        unblend = dt / np.maximum(self.mode_blend, dt)
        both = (self.heat_from, span, np.multiply(self.rise, dt), np.multiply(self.fall, dt), self.resolution, unblend)
        sides = (
            (self.lowest_compression, self.highest_compression, self.hot_highest_compression),
            (self.lowest_rebound, self.highest_rebound, self.hot_highest_rebound),
        )
        every = [coefficient_tables((*side, *both), (np.zeros((4, 1, cases)),))[0] for side in sides]
        return np.ascontiguousarray(np.concatenate(every, axis=1))
