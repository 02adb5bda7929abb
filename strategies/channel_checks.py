"""What one channel tells about itself: missing, out of range, jumped, stuck; and when it counts as lost."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.kernels import inline
from dualduty.signals import CONTROLLER_LAYOUT

Array = NDArray[np.float64]

BELIEVED, MISSING, OUT_OF_RANGE, JUMPED, STUCK, DISAGREES = 0.0, 1.0, 2.0, 3.0, 4.0, 5.0

# columns of the table of rows
LOW, HIGH, STEP, REST, NATURE, NOISE = range(6)
# nature of a row: whether it can be stuck, and what would have to move it
QUIET, LIVELY, WHEEL, YAW, TRAVEL = 0.0, 1.0, 2.0, 3.0, 4.0
_NATURES: Final = {
    "shaft_travel": TRAVEL, "wheel_speed": WHEEL, "yaw_rate": YAW,
    **dict.fromkeys(("specific_force_x", "specific_force_y", "specific_force_z", "roll_rate", "pitch_rate"), LIVELY),
}  # fmt: skip

# slots of a channel's state, (slot, row, case); from TOP on they serve the comparisons
(GOOD, SINCE_GOOD, RAW, UNCHANGED, CHANGE, JITTER, BADNESS, LOST, KIND, APART, TOP, BOTTOM, MEAN, SLOW, SQUARE, TIMER) = range(16)
SLOTS: Final = 16
TOGETHER: Final = CONTROLLER_LAYOUT.size  # one row more, for what no single channel owns; its slots:
SPEED_MEAN, WHEEL_TURN, THROTTLE_MEAN, WAITING, ROLLS_OF, PITCHES_OF = 0, 1, 2, 3, 4, 7  # three each: two ends, both
# rows of the table of parameters, (row, corner, case)
(STUCK_TICKS, RATE_SHARE, STUCK_MOTION, FULL, DRAIN, COMPARED, PAUSE, SHRINK, METRE, SLOW_SHARE, SECOND, LONG_SHARE, TWIST_LIMIT,
 LIKE, WHEEL_SHARE, APART_LOOKS, STATIC, LEVER, WHEELBASE, TRACK, DT, JITTER_SHARE) = range(22)  # fmt: skip

TRAVELS: Final = CONTROLLER_LAYOUT.rows["shaft_travel"].start
WHEELS: Final = CONTROLLER_LAYOUT.rows["wheel_speed"].start
STEERING: Final = CONTROLLER_LAYOUT.rows["steer_angle"].start
# how far from one step to the next the steps of a channel may differ on average: eight times what the noisiest of the tried
# sensors gives (travels 2 mm, forces 0.7 m/s², rates 0.022 rad/s, wheels 0.32 m/s), more where engines shake
_NOISE: Final = {TRAVEL: 0.02, LIVELY: 1.0, YAW: 1.0, WHEEL: 3.0}
_FORCE_NOISE: Final = 25.0  # m/s²; 1 g at 100 Hz is 14
NOISY_FOR: Final = 0.3  # s, over which that is averaged
NEVER: Final = 1e9  # ticks
STEERED: Final = 0.02  # rad; less steering may leave a perfect yaw gyro exactly where it is
ROLLS: Final = 1.0  # m/s; a slower wheel may be locked, and then its speed is exactly 0
GAINED: Final = 1.0  # m/s; so much must the other wheels' speeds have changed for one to be stuck
_CLOSE: Final = 1e-9  # adding up shares of a whole leaves that much


def row_table(dt: float) -> Array:
    """Range, largest step per tick, rest value, nature and noise of each row, (row, column)."""
    table = np.empty((CONTROLLER_LAYOUT.size, 6))
    for column, name in ((LOW, "low"), (HIGH, "high"), (STEP, "rate"), (REST, "rest")):
        table[:, column] = CONTROLLER_LAYOUT.per_row(name)
    table[:, STEP] *= dt
    for name, rows in CONTROLLER_LAYOUT.rows.items():
        table[rows, NATURE] = _NATURES.get(name, QUIET)
        table[rows, NOISE] = _FORCE_NOISE if name.startswith("specific") else _NOISE.get(_NATURES.get(name, QUIET), np.inf)
    return table


@inline
def note_change(raw: float, noise: float, jitter_share: float, state: Array, row: int, case: int) -> None:
    """Ticks for which a channel has not changed by a bit, and how far its steps differ on average; a gap is no movement.

    A lone spike counts for three times the noise allowed, no more: it is not believed anyway.
    """
    if np.isnan(raw):
        state[UNCHANGED, row, case] += 1.0
        return
    change = raw - state[RAW, row, case]
    state[RAW, row, case] = raw
    if np.isnan(change):  # the first value of all
        return
    state[JITTER, row, case] += jitter_share * (min(abs(change - state[CHANGE, row, case]), 3.0 * noise) - state[JITTER, row, case])
    state[CHANGE, row, case] = change
    state[UNCHANGED, row, case] = state[UNCHANGED, row, case] + 1.0 if change == 0.0 else 0.0


@inline
def note_range(raw: float, shrink: float, state: Array, row: int) -> None:
    """The range over which a channel lately moved; it shrinks with the time constant of the stuck check.

    A value that can't be is no movement: else a spike of one sensor would have all others called stuck.
    """
    if state[KIND, row] in (MISSING, OUT_OF_RANGE, JUMPED):
        return
    if state[TOP, row] < state[BOTTOM, row]:
        state[TOP, row] = state[BOTTOM, row] = raw
    less = shrink * (state[TOP, row] - state[BOTTOM, row])
    state[TOP, row] = max(raw, state[TOP, row] - less)
    state[BOTTOM, row] = min(raw, state[BOTTOM, row] + less)


@inline
def _moved_by_others(first: int, row: int, state: Array, case: int) -> float:
    """Over how much the other three of four channels lately moved, on average."""
    total = 0.0
    for other in range(first, first + 4):
        if other != row:
            total += state[TOP, other, case] - state[BOTTOM, other, case]
    return total / 3.0


@inline
def _stands_out(raw: float, nature: float, motion: float, state: Array, row: int, case: int) -> bool:
    """Whether what moves around a channel that doesn't change would have to move it too."""
    if nature == WHEEL:
        return bool(abs(raw) > ROLLS and _moved_by_others(WHEELS, row, state, case) > GAINED)
    if nature == YAW and state[TOP, STEERING, case] - state[BOTTOM, STEERING, case] < STEERED:
        return False
    return bool(_moved_by_others(TRAVELS, row, state, case) >= motion)


@inline
def outer_kind(raw: float, rows: Array, rate_share: float, state: Array, row: int, case: int) -> float:
    """Missing, out of range, or further from the last good value than it can have come."""
    if np.isnan(raw):
        return MISSING
    if not rows[row, LOW] <= raw <= rows[row, HIGH]:
        return OUT_OF_RANGE
    room = rows[row, STEP] * rate_share * (state[SINCE_GOOD, row, case] + 1.0)
    return JUMPED if abs(raw - state[GOOD, row, case]) > room else BELIEVED


@inline
def inner_kind(raw: float, rows: Array, table: Array, state: Array, row: int, case: int) -> float:
    """Of a value that could be: jumps to and fro, or hasn't changed for long though it should; what was stuck stays so until it moves."""
    if state[JITTER, row, case] > rows[row, NOISE] * table[RATE_SHARE, 0, case]:
        return JUMPED
    if state[UNCHANGED, row, case] < table[STUCK_TICKS, 0, case]:
        return BELIEVED
    stuck = state[KIND, row, case] == STUCK or _stands_out(raw, rows[row, NATURE], table[STUCK_MOTION, 0, case], state, row, case)
    return STUCK if stuck else BELIEVED


@inline
def keep_good(raw: float, kind: float, state: Array, row: int, case: int) -> float:
    """The last believed value; notes for how long it has been held. Writes no more than it must: most ticks are good."""
    if kind == BELIEVED:
        state[GOOD, row, case] = raw
        if state[KIND, row, case] != BELIEVED or state[SINCE_GOOD, row, case] > 0.0:
            state[KIND, row, case] = state[SINCE_GOOD, row, case] = 0.0
        return raw
    state[KIND, row, case] = kind
    state[SINCE_GOOD, row, case] = min(state[SINCE_GOOD, row, case] + 1.0, NEVER)
    return float(state[GOOD, row, case])


@inline
def count(kind: float, full: float, drain: float, state: Array, row: int, case: int) -> float:
    """Lost once bad for so long, until believed for so long; bad ticks with good ones between add up, the good ones drain.

    Hence a channel that is bad in more than about after / clears of its ticks is lost too, however short each gap.
    """
    level = state[BADNESS, row, case]
    if kind == BELIEVED:
        if level == 0.0:
            return 0.0
        level = max(level - drain, 0.0)
    else:
        level = min(level + 1.0, full)
    if level >= full:
        state[LOST, row, case] = 1.0
    elif level <= _CLOSE:
        state[LOST, row, case] = level = 0.0
    state[BADNESS, row, case] = level
    return float(state[LOST, row, case])
