"""Turning wheels and the tyre's horizontal forces, against closed forms and laws of nature."""

from __future__ import annotations

from collections.abc import Callable
from math import hypot

import numpy as np
import pytest
from numpy.typing import NDArray

from plant.course import Course
from plant.equilibrium import rates_at, rolling, standing
from plant.free_run import release, run_through
from plant.rows import ALONG, HEAVE, HUB, LOAD, PITCH_RATE, SIDE, SLIP_ACROSS, SLIP_ALONG, SPEED, WHEEL
from plant.vehicle import Vehicle

Array = NDArray[np.float64]
Make = Callable[..., Vehicle]
Courses = Callable[..., Course]


@pytest.mark.validates("friction: the force of a tyre never exceeds grip times load, whatever both slips; directions oppose the sliding")
def test_combined_slip_stays_within_the_grip(plain_vehicle: Make) -> None:
    vehicle = plain_vehicle(1000.0, grip=0.8, grip_fade=0.0)
    states = np.tile(standing(vehicle), (400, 1))
    slips = np.random.default_rng(5).uniform(-3.0, 3.0, (2, 400))
    states[:, SLIP_ALONG], states[:, SLIP_ACROSS] = slips
    report = rates_at(vehicle, states)[1]
    along, across, load = report[:, ALONG], report[:, SIDE], report[:, LOAD]
    share = np.hypot(along, across) / (0.8 * load)
    assert share.max() < 1.0
    assert share.max() > 0.99
    assert (along * slips[0] >= 0.0).all()
    assert (across * slips[1] <= 0.0).all()
    # each force alone at its scale uses 71 % of the grip: 1/sqrt(2)
    states[:1, SLIP_ALONG], states[:1, SLIP_ACROSS] = vehicle.drive_slip_scale, 0.0
    report = rates_at(vehicle, states[:1])[1]
    assert report[0, ALONG] == pytest.approx(0.8 * report[0, LOAD] / hypot(1.0, 1.0), rel=1e-12)


@pytest.mark.validates("Newton: a wheel in the air on throttle gains drive force / spin mass; braked, it loses brake force / spin mass")
def test_wheels_race_in_the_air(plain_vehicle: Make, make_course: Courses) -> None:
    numbers = {"spin_mass": 20.0, "drive_force": 2000.0, "drive_power": 1e6, "top_wheel_speed": 95.0, "drive_front": 0.3}
    vehicle = plain_vehicle(1000.0, speed_gain=0.0, pedal_rate=100.0, **numbers)
    state = rolling(standing(vehicle), 10.0)
    state[[HEAVE, *range(HUB, HUB + 4)]] += 50.0
    states, _ = release(vehicle, state, make_course(0.5, 10.0, throttle=1.0))
    gain = (states[450, WHEEL : WHEEL + 4] - states[50, WHEEL : WHEEL + 4]) / 0.4
    np.testing.assert_allclose(gain, 2000.0 * np.array([0.15, 0.15, 0.35, 0.35]) / 20.0, rtol=1e-9)


@pytest.mark.validates("conservation of angular momentum in flight: what spins the wheels up turns the body nose up")
def test_throttle_in_the_air_lifts_the_nose(plain_vehicle: Make, make_course: Courses) -> None:
    numbers = {"spin_mass": 20.0, "drive_force": 2000.0, "drive_power": 1e6, "top_wheel_speed": 95.0}
    vehicle = plain_vehicle(1000.0, speed_gain=0.0, pedal_rate=100.0, spring_contact=0.6, **numbers)  # springs slack: nothing else turns it
    state = rolling(standing(plain_vehicle(1000.0)), 10.0)
    state[[HEAVE, *range(HUB, HUB + 4)]] += 50.0
    state[HUB : HUB + 4] += 0.05
    states, _ = release(vehicle, state, make_course(0.3, 10.0, throttle=1.0))
    car = vehicle.car
    spun = 20.0 * car.tyre_radius * (states[:, WHEEL : WHEEL + 4] - states[0, WHEEL : WHEEL + 4]).sum(axis=1)
    arm = car.arm
    hubs = (car.unsprung_mass * -arm * (states[:, HUB + 7 : HUB + 11] - states[0, HUB + 7 : HUB + 11])).sum(axis=1)
    body = car.pitch_inertia * (states[:, PITCH_RATE] - states[0, PITCH_RATE])
    assert spun[-1] > 100.0
    assert states[-1, PITCH_RATE] < -0.1
    # measured 1.6e-12 N·m·s of 212, rounding
    assert np.abs(spun + body + hubs).max() < 1e-13 * spun[-1]


@pytest.mark.validates("Newton: the sum of the tyres' forces along is mass times acceleration, with the wheels' spin; power")
def test_acceleration_and_power(plain_vehicle: Make, make_course: Courses) -> None:
    numbers = {"drive_power": 30e3, "speed_gain": 0.0, "rolling_resistance": 0.0, "spin_mass": 20.0, "top_wheel_speed": 95.0}
    weak, strong = (plain_vehicle(4000.0, drive_force=force, **numbers) for force in (1500.0, 6000.0))
    inertia = weak.total_mass + 4.0 * 20.0
    slow = run_through([weak], [make_course(3.0, 12.0, throttle=1.0)], 0.0).truth["speed"][0, :, 0]
    fast = run_through([strong], [make_course(4.0, 30.0, throttle=1.0)], 0.0).truth["speed"][0, :, 0]
    # rel: measured 0.10 %: driven wheels turn faster than the ground; three times that
    assert slow[2000] - slow[1000] == pytest.approx(1500.0 / inertia, rel=3e-3)
    # rel: measured 1.0 %: power counts at the wheels, which slip; one and a half times that
    assert (fast[3400] - fast[3000]) / 0.4 == pytest.approx(30e3 / fast[3200] / inertia, rel=0.015)


@pytest.mark.validates("closed form: beyond the rim's contact the tyre is as much stiffer")
def test_rim(plain_vehicle: Make) -> None:
    vehicle = plain_vehicle(1000.0, rim_contact=0.06, rim_rate=5e5)
    states = np.tile(standing(vehicle), (3, 1))
    for row, deflection in enumerate((0.05, 0.07, 0.10)):
        states[row, HUB : HUB + 4] = vehicle.car.tyre_radius - deflection
    load = rates_at(vehicle, states)[1][:, LOAD]
    rate = float(vehicle.tyre_rate[0])
    np.testing.assert_allclose(load, [rate * 0.05, rate * 0.07 + 5e5 * 0.01, rate * 0.10 + 5e5 * 0.04], rtol=1e-9)


@pytest.mark.validates("rest stays rest: parked with the brakes on or off, nothing moves; law of nature")
@pytest.mark.parametrize("brake", [0.0, 1.0])
def test_parked(plain_vehicle: Make, make_course: Courses, brake: float) -> None:
    vehicle = plain_vehicle(1000.0, friction=40.0)
    states, _ = release(vehicle, standing(vehicle), make_course(2.0, 0.0, brake=brake))
    # measured 1.1e-14: what Newton's method left of the standing height
    assert np.abs(states - states[0]).max() < 1e-12
    assert np.abs(states[:, SPEED]).max() < 1e-12
