"""Wheels, accelerometers, yaw gyro, steering and brake against each other: what tells of the same motion must agree.

As with the travels, only what lasts for seconds counts, and limits stand well beyond what was seen over all sections of
the shipped library without a fault.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.kernels import inline
from dualduty.signals import CONTROLLER_LAYOUT
from dualduty.units import STANDARD_GRAVITY
from strategies import channel_checks as channel
from strategies.channel_checks import BELIEVED, STEERING, WHEELS
from strategies.verdict import keep_time, latch

Array = NDArray[np.float64]

FORCES: Final = CONTROLLER_LAYOUT.rows["specific_force_x"].start  # y and z follow
YAWING: Final = CONTROLLER_LAYOUT.rows["yaw_rate"].start
BRAKE: Final = CONTROLLER_LAYOUT.rows["brake"].start
THROTTLE: Final = CONTROLLER_LAYOUT.rows["throttle"].start

LONG: Final = 5.0  # s, over which forces must average to gravity and to what the motion asks for
UP_LIMIT: Final = 4.0  # m/s² off gravity on average; seen: 0.56
LEVEL_LIMIT: Final = 6.5  # m/s² that neither speed nor yaw explains; gravity on a slope of 35° is 5.6
MOVES: Final = 3.0  # m/s; slower wheels tell nothing of each other
WHEELS_LIKE: Final = 0.2  # share by which the other three wheels may differ among themselves
TURNS_LIKE, TURNS_APART, TURNS_FAR = 0.15, 0.4, 0.6  # rad/s
BRAKED, UNBRAKED, DRIVEN = 0.35, 0.5, 0.2  # share, m/s² and share: brakes that nobody feels though nobody drives


@inline
def middle_speed(value: Array) -> float:
    """Mean of the middle two of four wheel speeds: one bad wheel doesn't move it far."""
    a, b, c, d = value[WHEELS], value[WHEELS + 1], value[WHEELS + 2], value[WHEELS + 3]
    return float(a + b + c + d - max(a, b, c, d) - min(a, b, c, d)) / 2.0


@inline
def middle_of_others(value: Array, row: int) -> tuple[float, float]:
    """Median of the other three wheel speeds, and how far they lie apart."""
    low, high, total = np.inf, -np.inf, 0.0
    for other in range(WHEELS, WHEELS + 4):
        if other != row:
            low, high, total = min(low, value[other]), max(high, value[other]), total + value[other]
    return total - low - high, high - low


@inline
def compare_wheels(value: Array, kind: Array, table: Array, state: Array, apart: Array) -> None:
    """A wheel far from three that agree, for long: its sensor, unless it spins or is locked all that time."""
    for row in range(WHEELS, WHEELS + 4):
        middle, spread = middle_of_others(value, row)
        if kind[row] != BELIEVED or middle < MOVES or spread > 1.0 + WHEELS_LIKE * middle:
            continue
        far = abs(value[row] - middle) > max(2.0, table[channel.WHEEL_SHARE, 0] * middle)
        keep_time(state, apart, row, far, table[channel.APART_LOOKS, 0])


@inline
def compare_forces(value: Array, kind: Array, table: Array, state: Array, apart: Array) -> None:
    """Over some seconds the accelerometers must average to gravity on a believable slope, and to what speed and yaw ask for."""
    share, speed = table[channel.LONG_SHARE, 0], middle_speed(value)
    state[channel.SPEED_MEAN, channel.TOGETHER] += share * (speed - state[channel.SPEED_MEAN, channel.TOGETHER])
    for axis in range(3):
        row = FORCES + axis
        if kind[row] == BELIEVED:
            state[channel.MEAN, row] += share * (value[row] - state[channel.MEAN, row])
            state[channel.SLOW, row] += share * (value[YAWING] * speed - state[channel.SLOW, row])
    forward, left, up = state[channel.MEAN, FORCES], state[channel.MEAN, FORCES + 1], state[channel.MEAN, FORCES + 2]
    gained = (speed - state[channel.SPEED_MEAN, channel.TOGETHER]) / LONG  # the mean of a rate of change, by the same low-pass
    latch(apart, FORCES, min(abs(forward), abs(forward - gained)) / LEVEL_LIMIT)
    latch(apart, FORCES + 1, min(abs(left), abs(left - state[channel.SLOW, FORCES + 1])) / LEVEL_LIMIT)
    latch(apart, FORCES + 2, abs(up - STANDARD_GRAVITY) / UP_LIMIT)


@inline
def compare_turning(value: Array, kind: Array, table: Array, state: Array, apart: Array) -> None:
    """Yaw gyro, steering and the wheels' difference tell of the same turn: two that agree outvote the third.

    The steering is outvoted on the straight only: in a slide it points elsewhere by right.
    """
    speed, second = middle_speed(value), table[channel.SECOND, 0]
    if speed < MOVES or kind[YAWING] != BELIEVED or kind[STEERING] != BELIEVED:
        return
    across = (value[WHEELS + 1] - value[WHEELS]) + (value[WHEELS + 3] - value[WHEELS + 2])
    seen = across / (2.0 * table[channel.TRACK, 0])
    state[channel.WHEEL_TURN, channel.TOGETHER] += second * (seen - state[channel.WHEEL_TURN, channel.TOGETHER])
    state[channel.MEAN, YAWING] += second * (value[YAWING] - state[channel.MEAN, YAWING])
    state[channel.MEAN, STEERING] += second * (speed * value[STEERING] / table[channel.WHEELBASE, 0] - state[channel.MEAN, STEERING])
    gyro, steered, wheels = state[channel.MEAN, YAWING], state[channel.MEAN, STEERING], state[channel.WHEEL_TURN, channel.TOGETHER]
    alone = abs(steered - wheels) < TURNS_LIKE + 0.25 * abs(wheels) and min(abs(gyro - steered), abs(gyro - wheels)) > TURNS_APART
    keep_time(state, apart, YAWING, alone, table[channel.APART_LOOKS, 0])
    straight = max(abs(gyro), abs(wheels)) < TURNS_LIKE
    keep_time(state, apart, STEERING, straight and abs(steered) > TURNS_FAR, 1.5 * table[channel.APART_LOOKS, 0])


@inline
def compare_brake(value: Array, kind: Array, table: Array, state: Array, apart: Array) -> None:
    """Brakes that nobody feels: an accelerometer reads the brakes' force, whatever the slope."""
    if middle_speed(value) < MOVES or kind[FORCES] != BELIEVED:
        state[channel.MEAN, BRAKE] = state[channel.SLOW, BRAKE] = 0.0  # a parked vehicle holds its brake and feels nothing
        return
    if kind[BRAKE] != BELIEVED:
        return
    share = table[channel.LONG_SHARE, 0]
    state[channel.MEAN, BRAKE] += share * (value[BRAKE] - state[channel.MEAN, BRAKE])
    state[channel.SLOW, BRAKE] += share * (value[FORCES] - state[channel.SLOW, BRAKE])
    state[channel.THROTTLE_MEAN, channel.TOGETHER] += share * (value[THROTTLE] - state[channel.THROTTLE_MEAN, channel.TOGETHER])
    unfelt = state[channel.SLOW, BRAKE] > -UNBRAKED and state[channel.THROTTLE_MEAN, channel.TOGETHER] < DRIVEN
    latch(apart, BRAKE, state[channel.MEAN, BRAKE] / BRAKED if unfelt else 0.0)
