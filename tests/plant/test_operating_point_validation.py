"""Steady states against handbook formulas: links that carry braking and driving, understeer, roll."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from dualduty.errors import BadInput
from plant.operating_point import Nudge, evaluated, steady_point
from plant.rows import LOAD, TRAVEL
from plant.tyre import CRAWL
from plant.vehicle import Vehicle

Array = NDArray[np.float64]
MAKE = Callable[..., Vehicle]
SOURCE = "Gillespie, Fundamentals of Vehicle Dynamics, ch. 7 (from memory): an anti of 100 % holds the axle level, less in proportion"


def moved(vehicle: Vehicle, ahead: float) -> tuple[Array, Array]:
    """How far the shafts have moved from steady driving, and the loads, (4,) each. [m, N]"""
    reports = [evaluated(steady_point(vehicle, 15.0, ahead=a), [Nudge()])[2][0] for a in (0.0, ahead)]
    return reports[1][TRAVEL : TRAVEL + 4] - reports[0][TRAVEL : TRAVEL + 4], reports[1][LOAD : LOAD + 4] - reports[0][LOAD : LOAD + 4]


@pytest.mark.validates(SOURCE)
@pytest.mark.parametrize(("axle", "name", "ahead"), [("front", "anti_dive", -4.0), ("rear", "anti_lift", -4.0), ("rear", "anti_squat", 2.0),
                                                     ("front", "anti_rise", 2.0)])  # fmt: skip
def test_full_holds_level_and_half_is_half(plain_vehicle: MAKE, axle: str, name: str, ahead: float) -> None:
    corners = slice(0, 2) if axle == "front" else slice(2, 4)
    travels = []
    for share in (0.0, 0.5, 1.0):
        vehicle = plain_vehicle(1000.0, spin_mass=0.01, drive_power=1e6, **{name: share})
        travel, load = moved(vehicle, ahead)
        travels.append(travel[corners].mean())
        # links move nothing between the axles: the transfer stays m a h/L, 960 kg at 0.6 m, 144 kg at 0.36 m, four wheels' spin
        # rel: measured 1.2e-14, rounding; the balance is solved to about that
        assert load[:2].sum() == pytest.approx(-ahead * (960.0 * 0.6 + 144.0 * 0.36 + 4.0 * 0.01 * 0.36) / 2.0, rel=1e-12)
    assert abs(travels[0]) > 5e-3  # without links it does move
    # abs: measured 3.8e-5 at most: what spins a wheel leans on the links as well, 0.01 kg of 276 kg a wheel
    assert travels[1] / travels[0] == pytest.approx(0.5, abs=5e-5)
    assert travels[2] / travels[0] == pytest.approx(0.0, abs=5e-5)


@pytest.mark.validates(SOURCE)
def test_both_in_full_leave_no_pitch_on_the_springs(plain_vehicle: MAKE) -> None:
    vehicle = plain_vehicle(1000.0, spin_mass=0.01, anti_dive=1.0, anti_lift=1.0)
    # measured 1.2e-6 m: the wheels' spin, as above
    assert np.abs(moved(vehicle, -4.0)[0]).max() < 3e-6
    assert np.abs(moved(vehicle.overlay(anti_dive=0.0, anti_lift=0.0), -4.0)[0]).min() > 5e-3


@pytest.mark.validates("understeer gradient K = Wf/Cf - Wr/Cr, steer = L/R + K ay; Gillespie 1992, ch. 6 (from memory)")
@pytest.mark.parametrize("speed", [10.0, 25.0])
def test_understeer(plain_vehicle: MAKE, speed: float) -> None:
    vehicle = plain_vehicle(
        2000.0, wheelbase=2.9, front_arm=1.5, grip=1.0, slip_scale=0.1, grip_fade=0.3, tyre_rate=1e6, unsprung_mass=1e-3
    )
    load = vehicle.car.static_wheel_load
    vehicle = vehicle.overlay(static_wheel_load=load * np.array([0.6, 0.6, 1.0, 1.0]))  # a front axle that is overloaded grips worse
    lateral = 0.1
    point = steady_point(vehicle, speed, lateral=lateral)
    front, rear = 2.0 * load[0], 2.0 * load[2]
    stiff_front, stiff_rear = (1.0 - 0.3 * (1.0 / 0.6 - 1.0)) * front / 0.1, rear / 0.1  # N/rad
    gradient = (front / stiff_front - rear / stiff_rear) / 9.80665
    gradient *= np.sqrt(speed**2 + CRAWL) / speed  # slip is over the root of speed² and 1 m²/s², which keeps it damped at standstill
    # rel: measured 3.7e-4 and 3.9e-4, the square of the lean and of the slip angles; about twice that
    assert (point.steer - 2.9 * lateral / speed**2) / lateral == pytest.approx(gradient, rel=1e-3)


@pytest.mark.validates(
    "roll gradient ms d/(K - ms g d) = 10.9113 deg/g; Barton and Fieldhouse, Automotive Chassis Engineering, 2018, p. 174"
)
def test_roll_gradient(plain_vehicle: MAKE) -> None:
    stiffness, half = 28650.0, 0.73
    vehicle = plain_vehicle(
        2000.0, sprung_mass=1280.0, cg_height=0.365 + 0.2, roll_centre=0.2, half_track=half, spring_rate=stiffness / (4 * half**2),
        tyre_rate=5e6, unsprung_mass=1.0,
    )  # fmt: skip
    lateral = 0.02 * 9.80665
    travel = evaluated(steady_point(vehicle, 15.0, lateral=lateral), [Nudge()])[2][0, TRAVEL : TRAVEL + 4]
    roll = (travel[[1, 3]] - travel[[0, 2]]).mean() / (2 * half)
    closed = 1280.0 * 0.365 / (stiffness - 1280.0 * 9.80665 * 0.365)
    # rel: measured below 5e-11 against the closed form; the printed number within its g of 9.81
    assert roll / lateral == pytest.approx(closed, rel=2e-10)
    assert np.degrees(roll / lateral) * 9.81 == pytest.approx(10.9113, rel=3e-4)


@pytest.mark.validates("no steady state asks for more than the tyres' friction times weight; law of nature")
def test_more_than_grip_is_refused(plain_vehicle: MAKE) -> None:
    with pytest.raises(BadInput, match="no steady state at 15 m/s"):
        steady_point(plain_vehicle(900.0, grip=0.6), 15.0, lateral=7.0)
    with pytest.raises(BadInput, match="expected a speed"):
        steady_point(plain_vehicle(900.0), 0.0, lateral=1.0)
