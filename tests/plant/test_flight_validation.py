"""In flight nothing but gravity acts."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from dualduty.units import STANDARD_GRAVITY
from plant.course import Course
from plant.equilibrium import hanging, rates_at, rolling
from plant.free_run import release
from plant.rows import AHEAD, DISTANCE, HEAVE, HEAVE_SPEED, HUB, HUB_SPEED, LEFT, LOAD, SPEED, STATE_SIZE
from plant.vehicle import Vehicle


def hung(vehicle: Vehicle, lowest: float) -> np.ndarray:
    """State with all wheels hanging free and the tyres' lowest points at a height. [m]"""
    travel = hanging(vehicle) / vehicle.car.motion_ratio
    state = np.zeros(STATE_SIZE)
    state[HUB : HUB + 4] = lowest + vehicle.car.tyre_radius
    state[HEAVE] = (state[HUB : HUB + 4] + vehicle.extended_drop - travel).mean()
    return state


@pytest.mark.validates("free fall: specific force is 0; law of nature")
def test_specific_force_is_zero_in_flight(plain_vehicle: Callable[..., Vehicle]) -> None:
    vehicle = plain_vehicle(980.0)
    state = hung(vehicle, 2.0)
    state = rolling(state, 15.0)
    rate, report = rates_at(vehicle, state[None])
    # atol: bisection of the hanging travel ends at 1e-16 m, and 16 N/mm on 36 kg make 1e-12 m/s² of it
    np.testing.assert_allclose(rate[0, [HEAVE_SPEED, *range(HUB_SPEED, HUB_SPEED + 4)]], -STANDARD_GRAVITY, atol=1e-10)
    np.testing.assert_array_equal(report[0, [AHEAD, LEFT, *range(LOAD, LOAD + 4)]], 0.0)


@pytest.mark.validates("ballistic flight T = (vz + sqrt(vz² + 2 g h))/g: 0.768465 s, 11.2751 m, 4.41997 m/s at g = 9.81 m/s²")
def test_ballistic_flight(plain_vehicle: Callable[..., Vehicle], make_course: Callable[..., Course]) -> None:
    vehicle = plain_vehicle(980.0, drive_force=0.0, brake_force=0.0)  # wheels that are spun up turn the body
    state = hung(vehicle, 0.5)
    state = rolling(state, 15.0 * np.cos(np.radians(12.0)))
    state[[HEAVE_SPEED, *range(HUB_SPEED, HUB_SPEED + 4)]] = 15.0 * np.sin(np.radians(12.0))
    states, reports = release(vehicle, state, make_course(1.0, 15.0))
    touch = int(np.argmax(reports[:, LOAD] > 0.0))
    before = states[touch - 1]
    gap = before[HUB] - vehicle.car.tyre_radius
    rest = (before[HUB_SPEED] + np.sqrt(before[HUB_SPEED] ** 2 + 2 * STANDARD_GRAVITY * gap)) / STANDARD_GRAVITY
    up = 15.0 * np.sin(np.radians(12.0))
    landing = np.sqrt(up**2 + 2 * STANDARD_GRAVITY * 0.5)
    # Closed form at our g to rounding (the method is exact for constant acceleration), the table's numbers within their g.
    assert (touch - 1) * 1e-3 + rest == pytest.approx((up + landing) / STANDARD_GRAVITY, rel=1e-9)
    assert STANDARD_GRAVITY * rest - before[HUB_SPEED] == pytest.approx(landing, rel=1e-9)
    assert (touch - 1) * 1e-3 + rest == pytest.approx(0.768465, rel=5e-4)
    assert landing == pytest.approx(4.41997, rel=5e-4)
    assert before[DISTANCE] + rest * before[SPEED] == pytest.approx(11.2751, rel=5e-4)
