"""Equations of motion of one case: from its state to the rates of its state, and what was seen on the way."""

from __future__ import annotations

from math import sqrt
from typing import Any

from numpy import float64
from numpy.typing import NDArray

from dualduty.kernels import inline
from plant.chassis import body_accelerations, corner_height, corner_speed, horizontal_motion, hub_accelerations, links
from plant.damper import damper_force, friction_force
from plant.rows import (
    AHEAD,
    ALONG,
    BRAKE,
    DAMPER,
    DISTANCE,
    GROUND,
    GROUND_LEFT,
    HUB,
    HUB_SPEED,
    LEFT,
    LOAD,
    MOVING,
    SHAFT_SPEED,
    SIDE,
    SIDE_SPEED,
    SLIP,
    SLOPE,
    SPEED,
    STEER,
    STOP,
    STRUT,
    THROTTLE,
    TRAVEL,
    UNMET,
    YAW_RATE,
)  # fmt: skip
from plant.spring import motion_ratio, shaft_travel, spring_force, stop_force
from plant.tracks import between, place
from plant.tyre import grip_limit, side_force, slip_rate, wheel_load

Array = NDArray[float64]


@inline
def motion(case: Any, tables: Array, tracks: Array, state: Array, held: Array, duty: Array, rate: Array, report: Array) -> None:  # noqa: PLR0913, PLR0917 - one call joins all that acts on a vehicle
    """Fill `rate` (as the state) and `report` from `state`, `held` inputs and the eight reached duties."""
    find_ground(case, tracks, state[DISTANCE], report)
    for corner in range(4):
        vertical_forces(case, tables, state, corner, duty, report)
    anti_roll_bars(case, state, report)
    for corner in range(4):
        tyre_grip(case, state, held, corner, report)
    yaw_acceleration = horizontal_motion(case, held[STEER], state[YAW_RATE], report)
    plane_rates(case, state, held[STEER], report, rate)
    rate[YAW_RATE] = yaw_acceleration
    links(case, yaw_acceleration, report)
    for row in range(MOVING):
        rate[row] = state[row + MOVING]
    body_accelerations(case, state, report, rate)
    hub_accelerations(case, report, rate)


@inline
def find_ground(case: Any, tracks: Array, distance: float, report: Array) -> None:
    """Ground height [m] and slope [1] under the wheels; rear wheels come by a wheelbase later."""
    for axle in range(2):
        at = place(case, distance - axle * case.wheelbase)
        for side in range(2):
            low, high = tracks[GROUND_LEFT + side, at[0]], tracks[GROUND_LEFT + side, at[0] + 1]
            report[GROUND + 2 * axle + side] = between(low, high, at[1])
            report[SLOPE + 2 * axle + side] = at[2] * (high - low) / case.track_step


@inline
def vertical_forces(case: Any, tables: Array, state: Array, corner: int, duty: Array, report: Array) -> None:
    """Wheel load and everything along the shaft of one corner. [N]"""
    wheel_travel = state[HUB + corner] - corner_height(case, state, corner) + case.extended_drop[corner]
    wheel_speed = state[HUB_SPEED + corner] - corner_speed(case, state, corner)
    ratio = motion_ratio(case, corner, wheel_travel)
    travel, speed = shaft_travel(case, corner, wheel_travel), ratio * wheel_speed
    stop = stop_force(case, corner, travel, speed)
    damper = damper_force(case, tables, corner, speed, duty)
    report[TRAVEL + corner], report[SHAFT_SPEED + corner] = travel, speed
    report[STOP + corner], report[DAMPER + corner] = stop, damper
    report[STRUT + corner] = ratio * (spring_force(case, corner, travel) + stop + damper + friction_force(case, corner, speed))
    deflection = case.tyre_radius + report[GROUND + corner] - state[HUB + corner]
    deflection_speed = report[SLOPE + corner] * state[SPEED] - state[HUB_SPEED + corner]
    report[LOAD + corner] = wheel_load(case, corner, deflection, deflection_speed)


@inline
def anti_roll_bars(case: Any, state: Array, report: Array) -> None:
    """Add the bars' force to the struts: firmer on the side that is more compressed. [N]"""
    for first in range(0, 4, 2):
        left = state[HUB + first] - corner_height(case, state, first) + case.extended_drop[first]
        right = state[HUB + first + 1] - corner_height(case, state, first + 1) + case.extended_drop[first + 1]
        force = case.bar_rate[first] * (left - right)
        report[STRUT + first] += force
        report[STRUT + first + 1] -= force


@inline
def tyre_grip(case: Any, state: Array, held: Array, corner: int, report: Array) -> None:
    """Force along and across one tyre [N] within its grip, and the share of the wanted force that found none."""
    axle = corner // 2
    speed, load = state[SPEED], report[LOAD + corner]
    rolling = speed / sqrt(speed * speed + 0.01)  # smooth through standstill
    drive = 0.5 * held[THROTTLE] * case.drive_force * (case.drive_front if axle == 0 else 1.0 - case.drive_front)
    brake = 0.5 * held[BRAKE] * case.brake_force * (case.brake_front if axle == 0 else 1.0 - case.brake_front)
    wanted = drive - rolling * brake
    limit = grip_limit(case, corner, load)
    along = min(max(wanted, -limit), limit)
    report[UNMET + corner] = 1.0 - along / wanted if wanted != 0.0 else 0.0
    report[ALONG + corner] = along - rolling * case.rolling_resistance * load
    report[SIDE + corner] = side_force(case, limit, 0.95 * along, state[SLIP + axle])


@inline
def plane_rates(case: Any, state: Array, steer: float, report: Array, rate: Array) -> None:
    """Rates of distance, speeds in the plane, and slip."""
    speed, side_speed, yaw_rate = state[SPEED], state[SIDE_SPEED], state[YAW_RATE]
    rate[DISTANCE] = speed
    rate[SPEED] = report[AHEAD] + yaw_rate * side_speed
    rate[SIDE_SPEED] = report[LEFT] - yaw_rate * speed
    for axle in range(2):
        across = side_speed + case.arm[2 * axle] * yaw_rate - (steer * speed if axle == 0 else 0.0)
        rate[SLIP + axle] = slip_rate(case, across, speed, state[SLIP + axle])
