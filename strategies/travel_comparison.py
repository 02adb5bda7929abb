"""A travel against the other three, and the roll and pitch gyros against the travels.

Every comparison is slow on purpose: over some tens of metres the ground has no preference and no twist, so that what is
left is the sensor's. Limits stand at two to four times the largest value seen over all sections of the shipped library
with several vehicles, loads and sensors, none of which was faulty; "seen" below means there.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.kernels import inline
from dualduty.signals import CONTROLLER_LAYOUT
from strategies import channel_checks as channel
from strategies.channel_checks import BELIEVED, TRAVELS
from strategies.verdict import BACK, latch

Array = NDArray[np.float64]

ROLLING: Final = CONTROLLER_LAYOUT.rows["roll_rate"].start  # pitch rate follows

LIVELY_SHAFT: Final = 0.008  # m, r.m.s.; shafts that move less tell nothing
WILD_SHAFT: Final = 0.02  # m, r.m.s.; no shaft is called wild below
QUIET_GYRO: Final = 0.2  # of the shafts' movement, r.m.s.; seen: 0.5
WILD_GYRO: Final = 25.0  # times the shafts' movement, r.m.s.; seen: 10
GYRO_NOTED: Final = 0.03  # m; a gyro is not called wild below
TILT_OVER: Final = 8.0  # s, over which a gyro's angle is forgotten
TILT_LIMIT: Final = 0.9  # rad; seen: 0.31


@inline
def _follow(state: Array, slot: int, one: float, other: float, share: float) -> None:
    """Mean squares of how two ends lean, each as half the difference of its travels, and of both together."""
    state[slot, channel.TOGETHER] += share * (0.25 * one**2 - state[slot, channel.TOGETHER])
    state[slot + 1, channel.TOGETHER] += share * (0.25 * other**2 - state[slot + 1, channel.TOGETHER])
    state[slot + 2, channel.TOGETHER] += share * (0.0625 * (one + other) ** 2 - state[slot + 2, channel.TOGETHER])


@inline
def average_travels(value: Array, share: float, table: Array, state: Array) -> None:
    """Mean over distance of each travel, of its movement squared, and of how axles roll and sides pitch, squared."""
    for corner in range(4):
        row = TRAVELS + corner
        state[channel.MEAN, row] += share * (value[row] - table[channel.STATIC, corner] - state[channel.MEAN, row])
        if state[channel.SLOW, row] == 0.0:
            state[channel.SLOW, row] = value[row]
        state[channel.SLOW, row] += table[channel.SLOW_SHARE, 0] * (value[row] - state[channel.SLOW, row])
        state[channel.SQUARE, row] += share * ((value[row] - state[channel.SLOW, row]) ** 2 - state[channel.SQUARE, row])
    front_left, front_right = value[TRAVELS] - state[channel.SLOW, TRAVELS], value[TRAVELS + 1] - state[channel.SLOW, TRAVELS + 1]
    rear_left, rear_right = value[TRAVELS + 2] - state[channel.SLOW, TRAVELS + 2], value[TRAVELS + 3] - state[channel.SLOW, TRAVELS + 3]
    _follow(state, channel.ROLLS_OF, front_right - front_left, rear_right - rear_left, share)
    _follow(state, channel.PITCHES_OF, front_left - rear_left, front_right - rear_right, share)


@inline
def _sign(corner: int) -> float:
    """How a corner stands in the twist: front-left and rear-right against the others."""
    return 1.0 if corner in (0, 3) else -1.0


@inline
def _odd_one(twist: float, state: Array) -> int:
    """The corner that, put right alone, leaves the four mean travels nearest to where they stand at rest."""
    best, found = np.inf, 0
    for corner in range(4):
        left = 0.0
        for other in range(4):
            mean = state[channel.MEAN, TRAVELS + other]
            if other == corner:
                mean -= _sign(corner) * twist
            left += mean * mean
        if left < best:
            best, found = left, corner
    return found


@inline
def twist_of(state: Array) -> float:
    """How far the mean travels are from any plane: over some distance the ground has no twist, so a sensor has. [m]"""
    means = state[channel.MEAN]
    return float((means[TRAVELS] - means[TRAVELS + 1]) - (means[TRAVELS + 2] - means[TRAVELS + 3]))


@inline
def _unlike(row: int, like: float, state: Array) -> float:
    """How far a travel moves unlike the other three, as ratio to the limit: too little, or too much."""
    least, most = np.inf, 0.0
    for other in range(TRAVELS, TRAVELS + 4):
        if other != row:
            least, most = min(least, state[channel.SQUARE, other]), max(most, state[channel.SQUARE, other])
    own, ratio = state[channel.SQUARE, row], 0.0
    if least > LIVELY_SHAFT**2:
        ratio = like * np.sqrt(least / max(own, 1e-12))
    if own > WILD_SHAFT**2:
        ratio = max(ratio, like * np.sqrt(own / max(most, 1e-12)))
    return float(ratio)


@inline
def judge_travels(table: Array, state: Array, apart: Array) -> None:
    """An offset shows as twist of the means, a lost or a wild gain as movement without counterpart."""
    twist, like = twist_of(state), table[channel.LIKE, 0]
    odd = _odd_one(twist, state) if abs(twist) > BACK * table[channel.TWIST_LIMIT, 0] else -1
    for corner in range(4):
        ratio = _unlike(TRAVELS + corner, like, state)
        if corner == odd:
            ratio = max(ratio, abs(twist) / table[channel.TWIST_LIMIT, 0])
        latch(apart, TRAVELS + corner, ratio)


@inline
def compare_gyros(value: Array, kind: Array, share: float, table: Array, state: Array, apart: Array) -> None:
    """Roll and pitch gyros: they don't lean for ever, and stir about as much as the shafts do.

    Quiet is what both axles (or both sides) and their mean contradict, wild what none of them explains: one bad travel
    accuses no gyro, nor does ground that twists one axle against the other.
    """
    dt = table[channel.DT, 0]
    for axis in range(2):
        row = ROLLING + axis
        if kind[row] != BELIEVED:
            continue
        state[channel.MEAN, row] += dt * (value[row] - state[channel.MEAN, row] / TILT_OVER)
        state[channel.SLOW, row] += dt * value[row] - table[channel.SLOW_SHARE, 0] * state[channel.SLOW, row]
        moved = state[channel.SLOW, row] * table[channel.LEVER, axis]
        state[channel.SQUARE, row] += share * (moved * moved - state[channel.SQUARE, row])
        own = np.sqrt(state[channel.SQUARE, row])
        slot = channel.ROLLS_OF if axis == 0 else channel.PITCHES_OF
        one, other, both = state[slot, channel.TOGETHER], state[slot + 1, channel.TOGETHER], state[slot + 2, channel.TOGETHER]
        least, most = np.sqrt(min(one, other, both)), np.sqrt(max(one, other, both))
        ratio = abs(state[channel.MEAN, row]) / TILT_LIMIT
        if least > LIVELY_SHAFT:
            ratio = max(ratio, QUIET_GYRO * least / max(own, 1e-6))
        if own > GYRO_NOTED:
            ratio = max(ratio, own / (WILD_GYRO * max(most, 1e-3)))
        latch(apart, row, ratio)
