"""Signs of what is sensed and scored: wheel speeds in a turn, the tilted accelerometer, the seat off the middle, the bump stop's loss."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from dualduty.trace import Case, TraceChunk
from dualduty.units import STANDARD_GRAVITY
from plant.closed_loop import drive
from plant.constant_duty import ConstantDuty
from plant.course import Course
from plant.equilibrium import rates_at, standing
from plant.rows import HUB, HUB_SPEED, STOP
from plant.vehicle import Vehicle

Array = NDArray[np.float64]
MAKE = Callable[..., Any]


def driven(vehicle: Vehicle, course: Course) -> TraceChunk:
    """One case at fixed duty."""
    return drive([course], [vehicle], ConstantDuty(1), (Case("signs", "fixed", "fixed"),), np.zeros(1, int)).whole()


@pytest.fixture(scope="module")
def turn(plain_vehicle: MAKE, make_course: MAKE) -> TraceChunk:
    """A left turn at about 0.4 g, settled."""
    distance = np.arange(0.0, 10.0 * 6.0 * 1.2 + 10.0, 0.05)
    return driven(plain_vehicle(2000.0), make_course(6.0, 10.0, curvature=0.04 * np.minimum(distance / 20.0, 1.0)))


@pytest.mark.validates("rigid body: a wheel moves at v - y·yaw rate; in a left turn (ISO 8855: positive) the left wheels are the slower")
def test_outer_wheels_run_faster(turn: TraceChunk) -> None:
    wheels, yaw_rate = turn.signals["wheel_speed"][:, -1, 0], turn.signals["yaw_rate"][0, -1, 0]
    assert yaw_rate > 0.3
    # rel: measured 2.6 and 4.8 %, the slip of driven wheels, more of it on the lighter inner side
    assert wheels[[1, 3]] - wheels[[0, 2]] == pytest.approx([1.5 * yaw_rate] * 2, rel=0.07)


@pytest.mark.validates(
    "closed form: rolled out of the turn, the accelerometer's z leans away from the turn's centre and feels g less ay times roll"
)
def test_a_leaning_accelerometer_feels_less(turn: TraceChunk) -> None:
    sideways = turn.signals["yaw_rate"][0, -1, 0] * turn.truth["speed"][0, -1, 0]
    roll, pitch = turn.truth["roll"][0, -1, 0], turn.truth["pitch"][0, -1, 0]
    assert roll > 0.01
    longer = np.sqrt(1.0 + roll**2 + pitch**2)  # a turn doesn't lengthen what is felt
    # rel: measured 2.5e-4, the pitch under the steered wheels' drag; four times that
    less = STANDARD_GRAVITY - turn.signals["specific_force_z"][0, -1, 0] * longer
    assert less == pytest.approx(roll * sideways, rel=1e-3)


@pytest.mark.validates(
    "rigid body, small angles: the seat's acceleration is the body's plus y times roll's less x times pitch's (ISO 8855)"
)
@pytest.mark.parametrize(("left", "ahead"), [(0.4, 0.0), (0.0, -0.6), (-0.3, 0.5)])
def test_seat_off_the_middle(plain_vehicle: MAKE, make_course: MAKE, left: float, ahead: float) -> None:
    def hump(distance: Array) -> tuple[Array, Array]:
        height = 0.04 * np.sin(np.pi * np.clip((distance - 4.0) / 3.0, 0.0, 1.0)) ** 2
        return height, np.zeros_like(height)

    truth = driven(plain_vehicle(1500.0, seat_left=left, seat_ahead=ahead), make_course(2.0, 8.0, hump)).truth
    turning = {name: np.gradient(np.gradient(truth[name][0, :, 0], 1e-3), 1e-3) for name in ("roll", "pitch")}
    more = truth["seat_acceleration_z"][0, :, 0] - truth["body_acceleration_z"][0, :, 0]
    expected = left * turning["roll"] - ahead * turning["pitch"]
    assert np.abs(expected).max() > 0.3  # m/s²
    # atol: twofold differences over 1 ms, measured 2e-3 m/s² or less; twice that
    np.testing.assert_allclose(more[5:-5], expected[5:-5], atol=4e-3)


@pytest.mark.validates(
    "second law of thermodynamics: rubber gives back less than it took, so a bump stop pushes harder going in than coming out"
)
def test_bump_stop_loses_energy(plain_vehicle: MAKE) -> None:
    vehicle = plain_vehicle(0.0, bump_contact=0.55, bump_rate=50e3, bump_loss=0.3)
    state = np.tile(standing(vehicle), (2, 1))
    state[:, HUB : HUB + 4] += 0.06  # m: 10 mm into the stop
    state[0, HUB_SPEED : HUB_SPEED + 4], state[1, HUB_SPEED : HUB_SPEED + 4] = 1.0, -1.0
    going_in, coming_out = rates_at(vehicle, state)[1][:, STOP]
    # rel: measured -3.3e-3, as the smoothed turning point still takes half a per cent off the loss at 1 m/s; twice that
    assert going_in / coming_out == pytest.approx(1.3 / 0.7, rel=7e-3)
