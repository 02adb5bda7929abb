"""One plant step of a case: the valves, the stages of a Runge-Kutta step, the driver's hands and feet."""

from __future__ import annotations

from math import isfinite
from typing import Any, Final

from numpy import float64
from numpy.typing import NDArray

from dualduty.kernels import inline
from plant.pedals_and_steer import moved, wanted_acceleration, wanted_brake, wanted_steer, wanted_throttle
from plant.rows import (
    BRAKE,
    CURVATURE,
    DISTANCE,
    EXTRA_BRAKE,
    HUB_SPEED,
    REACHED,
    SPEED,
    STATE_SIZE,
    STEER,
    THROTTLE,
    THROTTLE_FLOOR,
    WANTED_SPEED,
    YAW_RATE,
)  # fmt: skip
from plant.tracks import between, place
from plant.valve import reached_half_a_step_later

Array = NDArray[float64]

FASTEST_HUB: Final = 300.0  # m/s; beyond it the numbers, not the wheel, have run away


@inline
def reach_duties(case: Any, held: Array, wanted: Array, middle: Array, end: Array, moving: bool) -> None:
    """Duties the eight valves reach in the middle and at the end of a plant step; those of now where nothing moves."""
    for valve in range(8):
        now = held[REACHED + valve]
        middle[valve] = reached_half_a_step_later(case, now, wanted[valve]) if moving else now
        end[valve] = reached_half_a_step_later(case, middle[valve], wanted[valve]) if moving else now


@inline
def keep_duties(end: Array, held: Array) -> None:
    """Note what the valves have reached."""
    for valve in range(8):
        held[REACHED + valve] = end[valve]


@inline
def next_stage(stage: int, step: float, state: Array, rate: Array, total: Array, trial: Array) -> None:
    """Where the classic fourth-order Runge-Kutta method wants the motion evaluated next, in `trial`.

    `rate` was found at the stage before (at the start of the step for stage 0); stage 3 is the new state itself.
    """
    for row in range(STATE_SIZE):
        if stage == 0:
            total[row] = rate[row]
        elif stage < 3:  # noqa: PLR2004 - the last of four stages
            total[row] += 2.0 * rate[row]
        else:
            state[row] += step / 6.0 * (total[row] + rate[row])
        reach = 0.0 if stage == 3 else (1.0 if stage == 2 else 0.5)  # noqa: PLR2004 - as above
        trial[row] = state[row] + reach * step * rate[row]


@inline
def act_as_driver(case: Any, tracks: Array, state: Array, held: Array) -> None:
    """Move pedals and steering wheel towards what the course asks for here, and the path a little ahead."""
    speed = state[SPEED]
    index, share, _ = place(case, state[DISTANCE])
    wish = wanted_acceleration(case, speed, between(tracks[WANTED_SPEED, index], tracks[WANTED_SPEED, index + 1], share))
    floor = between(tracks[THROTTLE_FLOOR, index], tracks[THROTTLE_FLOOR, index + 1], share)
    extra = between(tracks[EXTRA_BRAKE, index], tracks[EXTRA_BRAKE, index + 1], share)
    index, share, _ = place(case, state[DISTANCE] + case.preview * speed)
    curvature = between(tracks[CURVATURE, index], tracks[CURVATURE, index + 1], share)
    throttle, brake = wanted_throttle(case, wish, floor), wanted_brake(case, wish, extra)
    steer = wanted_steer(case, speed, state[YAW_RATE], curvature)
    held[THROTTLE] = moved(held[THROTTLE], throttle, case.pedal_rate * case.step)
    held[BRAKE] = moved(held[BRAKE], brake, case.pedal_rate * case.step)
    held[STEER] = moved(held[STEER], steer, case.steer_rate * case.step)


@inline
def has_run_away(state: Array) -> bool:
    """Whether the numbers, not the vehicle, have run away."""
    total = 0.0
    fastest = 0.0
    for row in range(STATE_SIZE):
        total += state[row]
    for corner in range(4):
        fastest = max(fastest, abs(state[HUB_SPEED + corner]))
    return not isfinite(total) or fastest > FASTEST_HUB
