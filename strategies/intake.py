"""Intake: what the controller believes of its sensors. No NaN passes it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.blocks import schmitt_trigger
from dualduty.kernels import IN2, IN3, OUT3, inline, kernel
from dualduty.lookup import full
from dualduty.memory import Memory
from dualduty.parameters import param
from dualduty.signals import CONTROLLER_LAYOUT

Array = NDArray[np.float64]

TRAVEL: Final = 2.0  # kind of row: 0 may stand still, 1 lively, 2 a shaft travel
_LIVELY: Final = ("shaft_travel", "specific_force_x", "specific_force_y", "specific_force_z", "roll_rate", "pitch_rate", "yaw_rate")


@inline
def _note_raw(raw: float, state: Array, row: int, case: int) -> None:
    """Count the ticks for which a channel has not changed by a bit; a gap is no movement."""
    if np.isnan(raw) or raw == state[3, row, case]:
        state[4, row, case] += 1.0
    else:
        state[3, row, case] = raw
        state[4, row, case] = 0.0


@inline
def _believed(raw: float, rows: Array, row: int, rate_share: float, state: Array, case: int) -> bool:
    """Within its range, and no further from the last good value than it can have come; NaN is neither."""
    if not rows[row, 0] <= raw <= rows[row, 1]:
        return False
    room = rows[row, 2] * rate_share * (state[2, row, case] + 1.0)
    return bool(state[0, row, case] == 0.0 or abs(raw - state[1, row, case]) <= room)


@inline
def _note_range(raw: float, stuck_ticks: float, state: Array, row: int, case: int) -> None:
    """Keep the range over which a channel lately moved; it shrinks with the time constant of the stuck check."""
    if np.isnan(raw):
        return
    if state[0, row, case] == 0.0:
        state[5, row, case] = state[6, row, case] = raw
    shrink = (state[5, row, case] - state[6, row, case]) / max(stuck_ticks, 1.0)
    state[5, row, case] = max(raw, state[5, row, case] - shrink)
    state[6, row, case] = min(raw, state[6, row, case] + shrink)


@inline
def _may_rest(rows: Array, motion: float, state: Array, row: int, case: int) -> bool:
    """A lively channel may rest while the other shafts have moved less than `motion` on average, unless it is lost already.

    What is not believed any more stays so until it moves.
    """
    moved, count = 0.0, 0
    for other in range(rows.shape[0]):
        if rows[other, 4] == TRAVEL and other != row:
            moved += state[5, other, case] - state[6, other, case]
            count += 1
    return moved < motion * count and state[2, row, case] == 0.0


@inline
def _note_tick(sensed: Array, tick: int, rows: Array, table: Array, state: Array) -> None:
    """Note what every channel gave at a tick, before any is judged."""
    for row in range(sensed.shape[0]):
        for case in range(sensed.shape[2]):
            _note_raw(sensed[row, tick, case], state, row, case)
            if rows[row, 4] == TRAVEL:
                _note_range(sensed[row, tick, case], table[0, 0, case], state, row, case)


@kernel(IN3, IN2, IN3, OUT3, OUT3, OUT3)
def _intake_kernel(sensed: Array, rows: Array, table: Array, state: Array, clean: Array, valid: Array) -> None:
    # rows: low, high, largest step per tick, rest, lively; table: stuck ticks, rate scale, motion of the other shafts
    # state: started, last good value, ticks since it, last raw value, ticks unchanged, highest and lowest of late
    for tick in range(sensed.shape[1]):
        _note_tick(sensed, tick, rows, table, state)
        for row in range(sensed.shape[0]):
            for case in range(sensed.shape[2]):
                raw = sensed[row, tick, case]
                good = _believed(raw, rows, row, table[1, 0, case], state, case)
                if good and rows[row, 4] > 0.0 and state[4, row, case] >= table[0, 0, case]:
                    good = _may_rest(rows, table[2, 0, case], state, row, case)
                if good:
                    state[0, row, case] = 1.0
                    state[1, row, case] = raw
                state[2, row, case] = 0.0 if good else min(state[2, row, case] + 1.0, 1e9)
                clean[row, tick, case] = state[1, row, case] if state[0, row, case] > 0.0 else rows[row, 3]
                valid[row, tick, case] = 1.0 if good else 0.0


def _row_table(dt: float) -> Array:
    kinds = [TRAVEL if s.name == "shaft_travel" else float(s.name in _LIVELY) for s in CONTROLLER_LAYOUT.signals]
    lively = np.repeat(kinds, [s.corners for s in CONTROLLER_LAYOUT.signals])
    columns = [CONTROLLER_LAYOUT.per_row(name) for name in ("low", "high", "rate", "rest")]
    return np.ascontiguousarray(np.stack([columns[0], columns[1], columns[2] * dt, columns[3], lively], axis=1))


@dataclass(frozen=True)
class Intake:
    """Range, rate and stuck checks on every channel; the last good value is held, a rest value before the first.

    A travel, acceleration or rate is stuck when it has not changed by a bit for `stuck_after` while the other shafts
    moved over `stuck_motion`: a car that stands, or rolls on smooth ground with coarse sensors, has no stuck channel.
    """

    stuck_after: float = param(0.5, "s", 0.05, 10.0, "time without any change after which a lively channel counts as stuck", said="ms")
    stuck_motion: float = param(0.01, "m", 0.001, 0.2, "how far the other shafts must have moved for that", said="mm")
    rate_share: float = param(1.0, "1", 0.1, 10.0, "scale on the believable rate of change of every channel")

    def run(self, sensed: Array, memory: Memory) -> tuple[Array, Array, Array]:
        """Cleaned signals and their validity.

        sensed : (row, time, case) array
            Rows by `CONTROLLER_LAYOUT`; NaN where a channel gave nothing. [SI]

        Returns
        -------
        clean, valid : (row, time, case) arrays
            Without NaN [SI]; 1 where the channel was believed.
        """
        node = memory("channels")
        count, _, cases = sensed.shape
        rows, table = node.derived(lambda: (_row_table(memory.dt), self._table(cases, memory.dt)))
        state = np.zeros((7, count, cases)) if node.state is None else node.state.copy()
        clean, valid = np.empty(sensed.shape), np.empty(sensed.shape)
        _intake_kernel(full(sensed, sensed.shape), rows, table, state, clean, valid)
        node.state = state
        lost = schmitt_trigger(1.0 - valid, 0.5, 0.5, memory("lost"), on_delay=0.05, off_delay=0.5)
        return clean, 1.0 - valid, lost

    def _table(self, cases: int, dt: float) -> Array:
        table = np.empty((3, 1, cases))
        table[0] = np.round(np.asarray(self.stuck_after) / dt).reshape(1, -1)
        table[1] = np.asarray(self.rate_share).reshape(1, -1)
        table[2] = np.asarray(self.stuck_motion).reshape(1, -1)
        return table
