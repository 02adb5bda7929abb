"""Intake: what the controller believes of its sensors, and which it counts as lost. No NaN passes it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.kernels import IN2, IN3, OUT2, OUT3, inline, kernel
from dualduty.lookup import full
from dualduty.memory import Memory, coefficient_tables
from dualduty.parameters import param
from dualduty.units import STANDARD_GRAVITY
from strategies import channel_checks as channel
from strategies.channel_checks import (
    BELIEVED,
    DISAGREES,
    OUT_OF_RANGE,
    STEERING,
    TRAVELS,
    WHEELS,
    count,
    inner_kind,
    keep_good,
    note_change,
    note_range,
    outer_kind,
    row_table,
)
from strategies.motion_comparison import FORCES, LONG, compare_brake, compare_forces, compare_turning, compare_wheels, middle_speed
from strategies.travel_comparison import average_travels, compare_gyros, judge_travels

Array = NDArray[np.float64]

LOOK: Final = 0.01  # s; channels are compared at every such time: all that counts there is slow


@inline
def _note_ranges(sensed: Array, shrink: float, state: Array) -> None:
    """Of the travels, the wheel speeds and the steering."""
    for corner in range(4):
        note_range(sensed[TRAVELS + corner], shrink, state, TRAVELS + corner)
        note_range(sensed[WHEELS + corner], shrink, state, WHEELS + corner)
    note_range(sensed[STEERING], shrink, state, STEERING)


@inline
def _compare(value: Array, kind: Array, table: Array, seen: Array, apart: Array) -> None:
    """All comparisons between channels; what a channel itself showed to be wrong takes no part."""
    share = min(max(middle_speed(value), 0.0) * table[channel.METRE, 0], 1.0)
    if kind[TRAVELS] + kind[TRAVELS + 1] + kind[TRAVELS + 2] + kind[TRAVELS + 3] == BELIEVED:
        average_travels(value, share, table, seen)
        judge_travels(table, seen, apart)
        compare_gyros(value, kind, share, table, seen, apart)
    compare_wheels(value, kind, table, seen, apart)
    compare_forces(value, kind, table, seen, apart)
    compare_turning(value, kind, table, seen, apart)
    compare_brake(value, kind, table, seen, apart)


@inline
def _look(sensed: Array, table: Array, state: Array, scratch: Array) -> None:
    """One look at all channels of a case; others see of a channel what it vouches for, else its last believed value."""
    value, kind, apart = scratch[0], scratch[1], scratch[2]
    for row in range(value.size):
        kind[row] = BELIEVED if state[channel.KIND, row] == DISAGREES else state[channel.KIND, row]
        value[row] = sensed[row] if kind[row] == BELIEVED else state[channel.GOOD, row]
        apart[row] = state[channel.APART, row]
    _compare(value, kind, table, state, apart)
    for row in range(value.size):
        state[channel.APART, row] = apart[row]


@inline
def _check(  # noqa: PLR0913, PLR0917
    sensed: Array, tick: int, rows: Array, table: Array, state: Array, clean: Array, kinds: Array, valid: Array, lost: Array
) -> None:
    """Every channel by itself at one tick: what is wrong with it, what is believed instead, and whether it is lost."""
    for row in range(sensed.shape[0]):
        nature = rows[row, channel.NATURE]
        for case in range(sensed.shape[2]):
            at = tick * sensed.shape[2] + case
            raw = sensed[row, tick, case]
            kind = outer_kind(raw, rows, table[channel.RATE_SHARE, 0, case], state, row, case)
            if nature != channel.QUIET and kind != OUT_OF_RANGE:  # infinity less infinity would stay in the average for good
                note_change(raw, rows[row, channel.NOISE], table[channel.JITTER_SHARE, 0, case], state, row, case)
                if kind == BELIEVED:
                    kind = inner_kind(raw, rows, table, state, row, case)
            if kind == BELIEVED and state[channel.APART, row, case] > 0.0:
                kind = DISAGREES
            clean[row, at] = keep_good(raw, kind, state, row, case)
            kinds[row, at] = kind
            valid[row, at] = 1.0 if kind == BELIEVED else 0.0
            lost[row, at] = count(kind, table[channel.FULL, 0, case], table[channel.DRAIN, 0, case], state, row, case)


@kernel(IN3, IN2, IN3, OUT3, OUT2, OUT2, OUT2, OUT2)
def _intake_kernel(  # noqa: PLR0913, PLR0917 - a kernel takes its arrays one by one
    sensed: Array, rows: Array, table: Array, state: Array, clean: Array, kinds: Array, valid: Array, lost: Array
) -> None:
    scratch = np.empty((3, sensed.shape[0]))
    for tick in range(sensed.shape[1]):
        _check(sensed, tick, rows, table, state, clean, kinds, valid, lost)
        for case in range(sensed.shape[2]):
            state[channel.WAITING, channel.TOGETHER, case] -= 1.0
            if state[channel.WAITING, channel.TOGETHER, case] >= 0.0:
                continue
            state[channel.WAITING, channel.TOGETHER, case] = table[channel.PAUSE, 0, case]
            _note_ranges(sensed[:, tick, case], table[channel.SHRINK, 0, case], state[:, :, case])
            if table[channel.COMPARED, 0, case] > 0.0:
                _look(sensed[:, tick, case], table[:, :, case], state[:, :, case], scratch)


def _padded(cases: int) -> int:
    """Room for that many cases, off the powers of two: rows 4096 bytes apart push each other out of the first cache."""
    return cases + 8 if cases >= 64 else cases


def _fresh(rows: Array, cases: int) -> Array:
    """State before the first tick: every channel at rest on level ground, and its first value believed wherever it is."""
    state = np.zeros((channel.SLOTS, len(rows) + 1, _padded(cases)))
    state[channel.GOOD, :-1] = rows[:, channel.REST, None]
    state[channel.SINCE_GOOD, :-1] = channel.NEVER
    state[channel.RAW, :-1] = np.nan
    state[channel.TOP, :-1] = -1.0
    state[channel.MEAN, FORCES + 2] = STANDARD_GRAVITY
    return state


@dataclass(frozen=True)
class Intake:
    """Range, rate and stuck checks on every channel, and slow comparisons between them; the last good value is held.

    A travel, acceleration or rate is stuck when it has not changed by a bit for `stuck_after` while the other shafts
    moved over `stuck_motion`: a car that stands, or rolls on smooth ground with coarse sensors, has no stuck channel. A
    wheel is when the other wheels' speeds changed, a yaw gyro only while somebody steers.

    Two travels on each other's plug can't be told: both move as shafts do.
    """

    stuck_after: float = param(0.5, "s", 0.05, 10.0, "time without any change after which a lively channel counts as stuck", said="ms")
    stuck_motion: float = param(0.01, "m", 0.001, 0.2, "how far the other shafts must have moved for that", said="mm")
    rate_share: float = param(1.0, "1", 0.1, 10.0, "scale on the believable rate of change of every channel")
    fault_after: float = param(0.05, "s", 0.0, 2.0, "how long a channel must be unbelievable before it counts as lost", said="ms")
    fault_clears: float = param(0.5, "s", 0.0, 10.0, "how long it must be believed again before it no longer does", said="ms")
    compare: float = param(1.0, "1", 0.0, 1.0, "above 0 compares channels with each other, 0 doesn't")
    compare_over: float = param(40.0, "m", 10.0, 500.0, "distance over which travels are averaged to be compared")
    twist_limit: float = param(0.04, "m", 0.01, 0.3, "how far mean travels may be off a common plane", said="mm")
    like_share: float = param(0.35, "1", 0.05, 0.9, "least movement of a travel, as share of what all others move", said="pct")
    wheel_share: float = param(0.35, "1", 0.1, 2.0, "how far a wheel speed may be off the other three that agree", said="pct")
    apart_after: float = param(2.0, "s", 0.2, 30.0, "how long wheels, or yaw rate and the others that turn, must disagree", said="ms")
    static_travel: float = param(0.1, "m", -0.1, 0.5, "shaft travel at rest", said="mm", by_corner=True, from_car="static_travel")
    motion_ratio: float = param(0.63, "1", 0.2, 1.5, "shaft over wheel travel", by_corner=True, from_car="motion_ratio")
    half_track: float = param(0.75, "m", 0.3, 1.5, "half the track", by_corner=True, from_car="half_track")
    wheelbase: float = param(2.4, "m", 1.0, 5.0, "wheelbase", from_car="wheelbase")

    def run(self, sensed: Array, memory: Memory) -> tuple[Array, Array, Array]:
        """Cleaned signals, what was wrong with each channel, and whether it counts as lost.

        sensed : (row, time, case) array
            Rows by `CONTROLLER_LAYOUT`; NaN where a channel gave nothing. [SI]

        Returns
        -------
        clean, kind, lost : (row, time, case) arrays
            Without NaN [SI]; 0 believed, 1 missing, 2 out of range, 3 jumped, 4 stuck, 5 disagreeing with others; 1 where
            the channel was bad for `fault_after`, until it has been believed for `fault_clears`.
        """
        shape = sensed.shape
        clean, kind, valid, lost = (np.empty((shape[0], shape[1] * shape[2])) for _ in range(4))
        self.run_onto(sensed, memory, clean, kind, valid, lost)
        return clean.reshape(shape), kind.reshape(shape), lost.reshape(shape)

    def run_onto(self, sensed: Array, memory: Memory, clean: Array, kind: Array, valid: Array, lost: Array) -> None:
        """As `run`, onto rows of a board: (row, tick x case or more) arrays; `valid` is 1 where a channel is believed."""
        node = memory("channels")
        shape = sensed.shape
        rows, table = node.derived(lambda: (row_table(memory.dt), self._table(shape[2], memory.dt)))
        state = _fresh(rows, shape[2]) if node.state is None else node.state.copy()
        _intake_kernel(full(sensed, shape), rows, table, state, clean, kind, valid, lost)
        node.state = state

    def _table(self, cases: int, dt: float) -> Array:
        """Parameters as the kernel takes them, (parameter, corner, case), in the order of `channel_checks`."""
        stuck, after, clears = (np.round(np.asarray(time) / dt) for time in (self.stuck_after, self.fault_after, self.fault_clears))
        pause = max(round(LOOK / dt), 1) - 1
        look = (pause + 1) * dt
        slow, second, long = (-np.expm1(-look * per_second) for per_second in (np.pi, 1.0, 1.0 / LONG))
        every = (
            stuck, self.rate_share, self.stuck_motion, after + 1.0, (after + 1.0) / (clears + 1.0), self.compare, pause,
            look / np.maximum(self.stuck_after, look), look / np.asarray(self.compare_over), slow, second, long, self.twist_limit,
            self.like_share, self.wheel_share, np.round(np.asarray(self.apart_after) / look), self.static_travel,
            np.multiply(self.half_track, self.motion_ratio), self.wheelbase, np.multiply(2.0, self.half_track), look,
            -np.expm1(-dt / channel.NOISY_FOR),
        )  # fmt: skip
        table = coefficient_tables(every, (np.zeros((4, 1, cases)),))[0]
        table[channel.TRACK] = table[channel.TRACK].mean(axis=0)
        table[channel.LEVER, 0] = table[channel.LEVER].mean(axis=0)  # shaft movement per body angle: roll, then pitch
        table[channel.LEVER, 1] = table[channel.LEVER, 0] * table[channel.WHEELBASE, 0] / table[channel.TRACK, 0]
        room = np.zeros((*table.shape[:2], _padded(cases)))
        room[:, :, :cases] = table
        return room
