"""The body and its four corners: where they are, and what the forces on the ground do to them."""

from __future__ import annotations

from typing import Any

from numpy import float64
from numpy.typing import NDArray

from dualduty.kernels import inline
from dualduty.units import STANDARD_GRAVITY
from plant.rows import (
    AHEAD,
    ALONG,
    AXLE,
    GROUND,
    HEAVE,
    HEAVE_SPEED,
    HUB,
    HUB_SPEED,
    LEFT,
    LIFTED,
    LOAD,
    PITCH,
    PITCH_RATE,
    ROLL,
    ROLL_RATE,
    SIDE,
    SIDE_SPEED,
    SLOPE,
    STRUT,
    Number,
)  # fmt: skip

Array = NDArray[float64]


@inline
def corner_height(case: Any, state: Array, corner: int) -> Number:
    """Height of a body corner over the datum of the centre of gravity; small angles. [m]"""
    return state[HEAVE] + case.side[corner] * state[ROLL] - case.arm[corner] * state[PITCH]


@inline
def corner_speed(case: Any, state: Array, corner: int) -> Number:
    """Vertical speed of a body corner. [m/s]"""
    return state[HEAVE_SPEED] + case.side[corner] * state[ROLL_RATE] - case.arm[corner] * state[PITCH_RATE]


@inline
def bank(case: Any, report: Array, axle: int) -> Number:
    """Slope across the ground under an axle, left side up positive; small angles. [1]"""
    first = 2 * axle
    return (report[GROUND + first] - report[GROUND + first + 1]) * case.per_track[first]


@inline
def horizontal_motion(case: Any, steer: float, yaw_rate: float, report: Array) -> Number:
    """Fill accelerations ahead and left of the sprung mass, and the side force of each axle; gives the yaw acceleration. [rad/s²]

    The ground pushes along its own normal: slopes and banks push the vehicle back and sideways. The side force of an
    axle is the one along its bank.
    """
    ahead, left, yaw = 0.0, 0.0, 0.0
    for axle in range(2):
        first = 2 * axle
        steered = steer if axle == 0 else 0.0
        loads, sides, drives = 0.0, 0.0, 0.0
        for corner in range(first, first + 2):
            along = report[ALONG + corner] - report[LOAD + corner] * report[SLOPE + corner] - steered * report[SIDE + corner]
            ahead += along
            yaw -= case.side[corner] * along
            loads += report[LOAD + corner]
            sides += report[SIDE + corner]
            drives += report[ALONG + corner]
        report[AXLE + axle] = sides + steered * drives
        level = report[AXLE + axle] - loads * bank(case, report, axle)
        left += level
        yaw += case.arm[first] * level
    # The whole's centre of gravity lies `mass_ahead` before and `mass_left` left of the sprung mass's, to which all positions refer.
    yaw_acceleration = (yaw - case.mass_ahead * left + case.mass_left * ahead) * case.per_yaw_inertia
    report[AHEAD] = ahead * case.per_total_mass + case.mass_ahead * yaw_rate * yaw_rate + case.mass_left * yaw_acceleration
    report[LEFT] = left * case.per_total_mass - case.mass_ahead * yaw_acceleration + case.mass_left * yaw_rate * yaw_rate
    return yaw_acceleration


@inline
def links(case: Any, yaw_acceleration: float, report: Array) -> None:
    """Fill, per axle, the sideways specific force [m/s²] and the force its links carry into the body at the roll centre [N].

    Both along the bank, where part of what presses the vehicle down pulls sideways: a bank takes load transfer off a corner, a
    side slope makes some, and in flight there is none.
    """
    pressed = (report[LOAD] + report[LOAD + 1] + report[LOAD + 2] + report[LOAD + 3]) * case.per_total_mass
    for axle in range(2):
        first = 2 * axle
        unsprung = case.unsprung_mass[first] + case.unsprung_mass[first + 1]
        sideways = report[LEFT] + case.arm[first] * yaw_acceleration + pressed * bank(case, report, axle)
        report[AXLE + 2 + axle] = sideways
        report[AXLE + 4 + axle] = report[AXLE + axle] - unsprung * sideways


@inline
def side_view_links(case: Any, report: Array) -> None:
    """Add to the struts what the links carry of braking and driving forces: anti-dive, anti-lift, anti-squat, anti-rise. [N]"""
    for corner in range(4):
        along = report[ALONG + corner]
        report[STRUT + corner] += along * (case.lift_braking[corner] if along < 0.0 else case.lift_driving[corner])


@inline
def climb(case: Any, report: Array) -> Number:
    """Slope of the ground from the rear axle up to the front axle; small angles. [1]"""
    rise = report[GROUND] + report[GROUND + 1] - report[GROUND + 2] - report[GROUND + 3]
    return 0.5 * rise * case.per_wheelbase


@inline
def body_accelerations(case: Any, state: Array, spun: float, report: Array, rate: Array) -> None:
    """Fill the rates of heave, roll and pitch speed; `spun` is what spins the wheels up [N at the tyre radius].

    The links push below the centre of gravity, and in roll the struts no longer stand under it; on a bank, links carry
    some weight, on a slope some of the force along it. Friction acts at the ground, what a slope pushes back goes through
    the wheel's centre, on a slope the body's weight leans downhill over the wheels, and what spins the wheels up turns the
    body the other way. The body rolls about its roll axis and swings its centre of gravity sideways against the tyres:
    `per_roll_inertia` knows what that takes.
    """
    slope = climb(case, report)
    alongs = (report[ALONG] + report[ALONG + 1] + report[ALONG + 2] + report[ALONG + 3]) * case.per_total_mass
    pressed = (report[LOAD] + report[LOAD + 1] + report[LOAD + 2] + report[LOAD + 3]) * case.per_total_mass
    heave, roll, pitch = 0.0, 0.0, -case.pitch_lever * report[AHEAD] - case.tyre_radius * spun
    pitch -= (case.cg_height - case.tyre_radius) * slope * case.sprung_mass * pressed
    for corner in range(4):
        lifted = slope * (report[ALONG + corner] - case.unsprung_mass[corner] * alongs)
        report[LIFTED + corner] = lifted
        force = report[STRUT + corner] + lifted
        heave += force
        roll += case.side[corner] * report[STRUT + corner]
        pitch -= case.arm[corner] * force + case.tyre_radius * report[LOAD + corner] * report[SLOPE + corner]
    for axle in range(2):
        first = 2 * axle
        hubs = (state[HUB + first] - state[HUB + first + 1]) * case.per_track[first]
        struts = report[STRUT + first] + report[STRUT + first + 1]
        carried = report[AXLE + 4 + axle] * bank(case, report, axle)
        heave += carried
        pitch -= case.arm[first] * carried
        roll += (case.cg_height - case.roll_centre[first]) * (report[AXLE + 4 + axle] + struts * (state[ROLL] - hubs))
    rate[HEAVE_SPEED] = heave * case.per_sprung_mass - STANDARD_GRAVITY
    rate[ROLL_RATE] = roll * case.per_roll_inertia
    rate[PITCH_RATE] = pitch * case.per_pitch_inertia


@inline
def swing_sideways(case: Any, report: Array, rate: Array) -> None:
    """Let wheels and body give way to each other sideways as the body rolls about its roll axis, the whole's centre staying."""
    rolling = rate[ROLL_RATE]
    rate[SIDE_SPEED] += case.swing * rolling
    report[LEFT] -= case.counter_swing * rolling
    for axle in range(2):
        first = 2 * axle
        report[AXLE + 2 + axle] += case.swing * rolling
        report[AXLE + 4 + axle] -= (case.unsprung_mass[first] + case.unsprung_mass[first + 1]) * case.swing * rolling


@inline
def hub_accelerations(case: Any, report: Array, rate: Array) -> None:
    """Fill the rates of the four hub speeds; the links lift the inner hub and press the outer one: load transfer no spring sees."""
    for axle in range(2):
        first = 2 * axle
        unsprung = case.unsprung_mass[first] + case.unsprung_mass[first + 1]
        moment = report[AXLE + 4 + axle] * case.roll_centre[first] + unsprung * report[AXLE + 2 + axle] * case.tyre_radius
        lift = moment * case.per_track[first]
        carried = report[AXLE + 2 + axle] * bank(case, report, axle)  # the tyres' share of weight that the links leave
        for corner in range(first, first + 2):
            force = report[LOAD + corner] - report[STRUT + corner] + (lift if corner == first else -lift)
            force += report[ALONG + corner] * report[SLOPE + corner] - report[LIFTED + corner]
            rate[HUB_SPEED + corner] = force * case.per_unsprung_mass[corner] + carried - STANDARD_GRAVITY
