"""In flight momentum, angular momentum and energy keep to their balances, springs and spinning wheels included."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from plant.course import Course
from plant.equilibrium import hanging, rolling
from plant.free_run import release
from plant.rows import HEAVE, HEAVE_SPEED, HUB, HUB_SPEED, LOAD, PITCH_RATE, STATE_SIZE, TRAVEL, WHEEL
from plant.vehicle import Vehicle

Array = NDArray[np.float64]
MAKE = Callable[..., Vehicle]


def in_the_air(vehicle: Vehicle, speed: float) -> Array:
    """All wheels hanging a few metres up."""
    state = np.zeros(STATE_SIZE)
    state[HUB : HUB + 4] = 6.0
    state[HEAVE] = (6.0 + vehicle.extended_drop - hanging(vehicle) / vehicle.car.motion_ratio).mean()
    return rolling(state, speed)


@pytest.mark.validates(
    "conservation of momentum and of angular momentum, spinning wheels included, in free flight on throttle; law of nature"
)
def test_momentum_in_flight(plain_vehicle: MAKE, make_course: Callable[..., Course]) -> None:
    vehicle = plain_vehicle(900.0, wheelbase=2.4, front_arm=1.3, unsprung_mass=np.array([36.0, 36.0, 41.0, 41.0]))
    car = vehicle.car
    state = in_the_air(vehicle, 12.0)
    state[[HEAVE_SPEED, *range(HUB_SPEED, HUB_SPEED + 4)]] = 2.0, 2.3, 1.9, 2.0, 2.4
    states, reports = release(vehicle, state, make_course(0.8, 12.0, throttle=0.8, coast=1.0))
    time = 1e-3 * np.arange(len(states))
    hubs = states[:, HUB_SPEED : HUB_SPEED + 4]
    assert reports[:, LOAD : LOAD + 4].max() == 0.0
    assert states[-1, WHEEL] - states[0, WHEEL] > 5.0
    up = car.sprung_mass * states[:, HEAVE_SPEED] + hubs @ car.unsprung_mass
    # atol of 2000 kg·m/s: rounding of 800 steps
    np.testing.assert_allclose(up, up[0] - vehicle.total_mass * 9.80665 * time, atol=1e-8)
    turning = car.pitch_inertia * states[:, PITCH_RATE] - hubs @ (car.unsprung_mass * car.arm)
    turning += car.tyre_radius * states[:, WHEEL : WHEEL + 4] @ np.broadcast_to(vehicle.spin_mass, 4)
    about = turning[0] + 9.80665 * time * (car.unsprung_mass @ car.arm)  # weight of the wheels about the sprung mass's centre
    np.testing.assert_allclose(turning, about, atol=1e-8)
    assert states[-1, PITCH_RATE] < states[0, PITCH_RATE] - 0.2


@pytest.mark.validates("conservation of energy in free flight without dampers: springs, heights and speeds; law of nature")
def test_energy_in_flight(plain_vehicle: MAKE, make_course: Callable[..., Course]) -> None:
    vehicle = plain_vehicle(0.0, drive_force=0.0, brake_force=0.0)
    car = vehicle.car
    state = in_the_air(vehicle, 12.0)
    state[HUB : HUB + 4] += [0.05, 0.02, 0.03, 0.06]  # springs pressed
    states, reports = release(vehicle, state, make_course(0.3, 12.0), step=2.5e-4)
    pressed = np.maximum(reports[:, TRAVEL : TRAVEL + 4] - vehicle.spring_contact, 0.0)
    droop = np.minimum(reports[:, TRAVEL : TRAVEL + 4], 0.0)
    stored = 0.5 * (vehicle.spring_rate * pressed**2 + vehicle.droop_rate * droop**2).sum(1)
    masses = np.array([car.sprung_mass, car.roll_inertia, car.pitch_inertia, *car.unsprung_mass])
    moving = 0.5 * states[:, 7:14] ** 2 @ masses
    high = 9.80665 * (car.sprung_mass * states[:, HEAVE] + states[:, HUB : HUB + 4] @ car.unsprung_mass)
    total = stored + moving + high
    assert stored[0] > 50.0
    # measured 2.4e-7 of what the springs held: springs go slack within steps; three times that
    assert np.abs(total - total[0]).max() < 7.5e-7 * stored[0]
