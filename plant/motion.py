"""Equations of motion of one case: from its state to the rates of its state, and what was seen on the way."""

from __future__ import annotations

from typing import Any

from numpy import float64
from numpy.typing import NDArray

from dualduty.kernels import inline
from plant.chassis import (
    body_accelerations,
    corner_height,
    corner_speed,
    horizontal_motion,
    hub_accelerations,
    links,
    side_view_links,
    swing_sideways,
)  # fmt: skip
from plant.damper import damper_force, friction_force, oil_speed, series_force_rate
from plant.rows import (
    AHEAD,
    BEYOND,
    DAMPER,
    DISTANCE,
    GROUND,
    GROUND_LEFT,
    HUB,
    HUB_SPEED,
    LEFT,
    LOAD,
    LOSS,
    MOVING,
    SERIES_FORCE,
    SHAFT_SPEED,
    SIDE_SPEED,
    SLOPE,
    SPEED,
    STEER,
    STOP,
    STRUT,
    TRAVEL,
    YAW_RATE,
    Number,
)  # fmt: skip
from plant.spring import motion_ratio, shaft_travel, spring_force, stop_force
from plant.tracks import between, place
from plant.tyre import wheel_load
from plant.wheels import roll_wheels

Array = NDArray[float64]


@inline
def motion(case: Any, tables: Array, tracks: Array, state: Array, held: Array, rate: Array, report: Array) -> None:  # noqa: PLR0913 - one call joins all that acts on a vehicle
    """Fill `rate` (as the state) and `report` from `state` and `held` inputs."""
    find_ground(case, tracks, state[DISTANCE], report)
    for first in range(0, 4, 2):
        left = vertical_forces(case, tables, state, held, first, rate, report)
        right = vertical_forces(case, tables, state, held, first + 1, rate, report)
        bar = case.bar_rate[first] * (left - right)  # firmer on the side that is more compressed
        report[STRUT + first] += bar
        report[STRUT + first + 1] -= bar
    spun = roll_wheels(case, state, held, rate, report)
    yaw_acceleration = horizontal_motion(case, held[STEER], state[YAW_RATE], report)
    rate[DISTANCE] = state[SPEED]
    rate[SPEED] = report[AHEAD] + state[YAW_RATE] * state[SIDE_SPEED]
    rate[SIDE_SPEED] = report[LEFT] - state[YAW_RATE] * state[SPEED]
    rate[YAW_RATE] = yaw_acceleration
    links(case, yaw_acceleration, report)
    side_view_links(case, report)
    for row in range(MOVING):
        rate[row] = state[row + MOVING]
    body_accelerations(case, state, spun, report, rate)
    swing_sideways(case, report, rate)
    hub_accelerations(case, report, rate)


@inline
def find_ground(case: Any, tracks: Array, distance: float, report: Array) -> None:
    """Ground height [m] and slope [1] under the wheels; rear wheels come by a wheelbase later."""
    for axle in range(2):
        at = place(case, distance - axle * case.wheelbase)
        for side in range(2):
            low, high = tracks[GROUND_LEFT + side, at[0]], tracks[GROUND_LEFT + side, at[0] + 1]
            report[GROUND + 2 * axle + side] = between(low, high, at[1])
            report[SLOPE + 2 * axle + side] = at[2] * (high - low) * case.per_track_step


@inline
def vertical_forces(case: Any, tables: Array, state: Array, held: Array, corner: int, rate: Array, report: Array) -> Number:  # noqa: PLR0913 - as motion
    """Fill wheel load and everything along the shaft of one corner [N]; gives its wheel travel. [m]"""
    wheel_travel = state[HUB + corner] - corner_height(case, state, corner) + case.extended_drop[corner]
    wheel_speed = state[HUB_SPEED + corner] - corner_speed(case, state, corner)
    ratio = motion_ratio(case, corner, wheel_travel)
    travel, speed = shaft_travel(case, corner, wheel_travel), ratio * wheel_speed
    stop = stop_force(case, corner, travel, speed)
    through, beyond, rate[SERIES_FORCE + corner] = speed, 0.0, 0.0
    if case.series_rate[corner] > 0.0:
        damper = state[SERIES_FORCE + corner]
        through, slope, beyond = oil_speed(case, tables, held, corner, (travel, damper))
        rate[SERIES_FORCE + corner] = series_force_rate(case, corner, speed - through, slope)
    else:
        damper, beyond = damper_force(case, tables, held, corner, (travel, speed))
    friction = friction_force(case, corner, speed)
    report[TRAVEL + corner], report[SHAFT_SPEED + corner] = travel, speed
    report[STOP + corner], report[DAMPER + corner], report[BEYOND + corner] = stop, damper, beyond
    report[LOSS + corner] = damper * through + friction * speed
    report[STRUT + corner] = ratio * (spring_force(case, corner, travel) + stop + damper + friction)
    deflection = case.tyre_radius + report[GROUND + corner] - state[HUB + corner]
    deflection_speed = report[SLOPE + corner] * state[SPEED] - state[HUB_SPEED + corner]
    report[LOAD + corner] = wheel_load(case, corner, deflection, deflection_speed)
    return wheel_travel
