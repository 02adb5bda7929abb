"""One plant step of a case: the stages of a Runge-Kutta step, the driver's hands and feet, heat."""

from __future__ import annotations

from math import isfinite
from typing import Any, Final

from numpy import float64
from numpy.typing import NDArray

from dualduty.kernels import inline
from plant.damper import heat_oil
from plant.pedals_and_steer import moved, wanted_acceleration, wanted_brake, wanted_steer, wanted_throttle
from plant.rows import (
    BRAKE,
    CURVATURE,
    DISTANCE,
    EXTRA_BRAKE,
    EXTRA_STEER,
    HUB_SPEED,
    LOSS,
    SPEED,
    SPEED_FREE,
    STATE_SIZE,
    STEER,
    STEER_HELD,
    THROTTLE,
    THROTTLE_FLOOR,
    WANTED_SPEED,
    YAW_RATE,
)  # fmt: skip
from plant.tracks import place, wish

Array = NDArray[float64]

FASTEST_HUB: Final = 300.0  # m/s; beyond it the numbers, not the wheel, have run away


@inline
def next_stage(stage: int, step: float, state: Array, rate: Array, total: Array, trial: Array) -> None:
    """Where the classic fourth-order Runge-Kutta method wants the motion evaluated next, in `trial`.

    `rate` was found at the stage before (at the start of the step for stage 0); stage 3 is the new state itself.
    """
    if stage == 0:
        for row in range(STATE_SIZE):
            total[row] = rate[row]
            trial[row] = state[row] + 0.5 * step * rate[row]
    elif stage < 3:  # noqa: PLR2004 - the last of four stages
        reach = step if stage == 2 else 0.5 * step  # noqa: PLR2004 - as above
        for row in range(STATE_SIZE):
            total[row] += 2.0 * rate[row]
            trial[row] = state[row] + reach * rate[row]
    else:
        for row in range(STATE_SIZE):
            state[row] += step * (1.0 / 6.0) * (total[row] + rate[row])
            trial[row] = state[row]


@inline
def act_as_driver(case: Any, tracks: Array, state: Array, held: Array) -> None:
    """Move pedals and steering wheel towards what the course asks for here, and the path a little ahead."""
    speed = state[SPEED]
    here, ahead = place(case, state[DISTANCE]), place(case, state[DISTANCE] + case.preview * speed)
    asked = (1.0 - wish(tracks, SPEED_FREE, here)) * wanted_acceleration(case, speed, wish(tracks, WANTED_SPEED, here))
    throttle = wanted_throttle(case, asked, wish(tracks, THROTTLE_FLOOR, here))
    brake = wanted_brake(case, asked, wish(tracks, EXTRA_BRAKE, here))
    keeping = (1.0 - wish(tracks, STEER_HELD, here)) * wanted_steer(case, speed, state[YAW_RATE], wish(tracks, CURVATURE, ahead))
    steer = min(max(keeping + wish(tracks, EXTRA_STEER, here), -case.steer_limit), case.steer_limit)
    held[THROTTLE] = moved(held[THROTTLE], throttle, case.pedal_rate * case.step)
    held[BRAKE] = moved(held[BRAKE], brake, case.pedal_rate * case.step)
    held[STEER] = moved(held[STEER], steer, case.steer_rate * case.step)


@inline
def warm_dampers(case: Any, state: Array, report: Array, held: Array) -> None:
    """Warm the oil of the four dampers by what they turned into heat."""
    for corner in range(4):
        heat_oil(case, corner, report[LOSS + corner], abs(state[SPEED]), held)


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
