"""Modes and quasi-static behaviour of the whole vehicle against closed forms and published numbers."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from dualduty.trace import Case
from dualduty.units import STANDARD_GRAVITY
from plant.closed_loop import drive
from plant.constant_duty import ConstantDuty
from plant.course import Course
from plant.equilibrium import rates_at, standing
from plant.rows import MOVING, STATE_SIZE
from plant.vehicle import Vehicle

Array = NDArray[np.float64]
MOTION = 2 * MOVING  # positions and speeds of body and hubs


def modes_hz(vehicle: Vehicle) -> Array:
    """Undamped natural frequencies, rising, from central differences of the plant's own equations. [Hz]"""
    rest = standing(vehicle)
    nudge = 1e-6 * np.eye(STATE_SIZE)[:MOTION]
    rates = rates_at(vehicle, np.concatenate([rest + nudge, rest - nudge]))[0][:, :MOTION]
    slopes = (rates[:MOTION] - rates[MOTION:]).T / 2e-6
    eigenvalues = np.linalg.eigvals(slopes)
    return np.sort(np.abs(eigenvalues[eigenvalues.imag > 0.0])) / (2 * np.pi)


@pytest.mark.validates("full-car set of Shock and Vibration 2019, 5193593, table 4; its undamped modes computed from the linear equations")
def test_modes_of_a_published_vehicle(plain_vehicle: Callable[..., Vehicle]) -> None:
    vehicle = plain_vehicle(
        0.0, sprung_mass=1210.0, unsprung_mass=45.0, roll_inertia=390.0, pitch_inertia=1920.0, half_track=0.74, front_arm=1.13,
        wheelbase=2.60, spring_rate=18e3, tyre_rate=200e3, cg_height=0.3, roll_centre=0.3,
    )  # fmt: skip
    modes = modes_hz(vehicle)
    # atol: half the last digit given
    np.testing.assert_allclose(modes[:3], [1.1153, 1.2782, 1.5314], atol=5e-5)
    np.testing.assert_allclose(modes[3:], 11.08, atol=0.015)  # four hop modes close together, one number given


@pytest.mark.validates("Gillespie, Fundamentals of Vehicle Dynamics, bounce and pitch formulas (attribution from memory)")
def test_bounce_and_pitch(plain_vehicle: Callable[..., Vehicle]) -> None:
    vehicle = plain_vehicle(
        0.0, sprung_mass=1600.0, unsprung_mass=1e-3, pitch_inertia=1600.0 * 0.95**2, front_arm=1.3, wheelbase=2.9, tyre_rate=1e9,
        spring_rate=np.array([19e3, 19e3, 17e3, 17e3]), cg_height=0.5, roll_centre=0.5,
    )  # fmt: skip
    modes = modes_hz(vehicle)[:3]
    expected = [1.06550, 1.63032]
    # rtol: tyres of 1e9 N/m in series cost 1e-5; the numbers have six digits
    for value in expected:
        assert np.abs(modes / value - 1.0).min() < 2e-5


@pytest.mark.validates("static axle load m g b/L and m g a/L, Gillespie ch. 1; 5683.03 and 6088.97 N at g = 9.81 m/s²")
def test_static_balance(plain_vehicle: Callable[..., Vehicle]) -> None:
    front, rear = 1.40 / 2.9, 1.50 / 2.9
    unsprung = 100.0 * np.array([front, front, rear, rear])  # as the whole, so that its centre of gravity is the vehicle's
    vehicle = plain_vehicle(0.0, sprung_mass=1000.0, unsprung_mass=unsprung, wheelbase=2.9, front_arm=1.5)
    loads = rates_at(vehicle, standing(vehicle)[None])[1][0, :4]
    scale = STANDARD_GRAVITY / 9.81
    # rtol: the printed digits
    np.testing.assert_allclose([loads[:2].sum(), loads[2:].sum()], np.array([5683.03, 6088.97]) * scale, rtol=2e-6)
    assert loads.sum() == pytest.approx(1200.0 * STANDARD_GRAVITY, rel=1e-12)


def handbook_car(plain_vehicle: Callable[..., Vehicle]) -> Vehicle:
    """1000 kg at 0.80 m, 200 kg at 0.36 m, roll centres 0.30 and 0.35 m, 28 and 22 kN·m/rad, track 1.60 m."""
    springs = np.array([24e3, 24e3, 20e3, 20e3]) / (2 * 0.8**2)
    bars = np.array([4e3, 4e3, 2e3, 2e3]) / (4 * 0.8**2)
    return plain_vehicle(
        3000.0, sprung_mass=1000.0, unsprung_mass=50.0, wheelbase=2.9, front_arm=1.5, half_track=0.8, cg_height=0.80,
        roll_centre=np.array([0.30, 0.30, 0.35, 0.35]), spring_rate=springs, bar_rate=bars, grip=1.2, tyre_rate=2e6,
    )  # fmt: skip


@pytest.mark.validates("roll gradient ms d/(Kφ - ms g d), axle load transfer in Milliken's form (from memory): 1183.95, 1117.63 N")
def test_steady_cornering(plain_vehicle: Callable[..., Vehicle], make_course: Callable[..., Course]) -> None:
    vehicle, speed = handbook_car(plain_vehicle), 12.0
    curvature = 4.0 / speed**2
    course = make_course(9.0, speed, curvature=np.minimum(np.arange(0.0, speed * 9.0 * 1.2 + 10.0, 0.05) / 20.0, 1.0) * curvature)
    whole = drive([course], [vehicle], ConstantDuty(1), (Case("circle", "fixed", "fixed"),), np.zeros(1, int)).whole()
    truth = {name: signal[:, -1, 0] for name, signal in whole.truth.items()}
    sideways = whole.signals["yaw_rate"][0, -1, 0] * truth["speed"][0]
    suspension_roll = (truth["true_travel"][[1, 3]] - truth["true_travel"][[0, 2]]).mean() / 1.6
    gravity = 1000.0 * STANDARD_GRAVITY * 0.474138
    gradient = 1000.0 * 0.474138 / (50e3 - gravity)
    # rtol: measured 5.6e-4: the formula knows neither sideslip, nor tyres that give, nor the moment of steered side forces; twice that
    assert suspension_roll == pytest.approx(gradient * sideways, rel=1.2e-3)
    transfer = (truth["wheel_load"][[1, 3]] - truth["wheel_load"][[0, 2]]) / 2.0
    # The worked example takes g = 9.81 and 4 m/s²; ours scales with the acceleration reached. rtol: measured 2.9e-4,
    # of which 0.7e-4 is that g.
    expected = np.array([1183.95, 1117.63]) * sideways / 4.0
    assert transfer.sum() == pytest.approx(expected.sum(), rel=5e-4)
    # rtol: measured 3.1e-3: the side forces of steered wheels also turn the car, which the formula leaves out; half as much again
    np.testing.assert_allclose(transfer, expected, rtol=4.5e-3)
    assert sideways == pytest.approx(4.0, rel=0.1)  # the driver comes near what was asked


@pytest.mark.validates("longitudinal load transfer m ax h/L, Gillespie ch. 1; 1489.66 N at 5 m/s²")
def test_braking(plain_vehicle: Callable[..., Vehicle], make_course: Callable[..., Course]) -> None:
    height = (1200.0 * 0.72 - 200.0 * 0.36) / 1000.0  # of the sprung mass, for 0.72 m of the whole
    front, rear = 1.40 / 2.9, 1.50 / 2.9
    unsprung = 100.0 * np.array([front, front, rear, rear])
    vehicle = plain_vehicle(
        4000.0, sprung_mass=1000.0, unsprung_mass=unsprung, wheelbase=2.9, front_arm=1.5, cg_height=height, speed_gain=0.0, grip=1.2,
        brake_force=6000.0, spin_mass=1.0,
    )  # fmt: skip
    course = make_course(3.0, 25.0, brake=1.0)
    truth = drive([course], [vehicle], ConstantDuty(1), (Case("stop", "fixed", "fixed"),), np.zeros(1, int)).whole().truth
    load = truth["wheel_load"][:2, -1, 0].sum() - truth["wheel_load"][:2, 0, 0].sum()
    slowing = (truth["speed"][0, -201, 0] - truth["speed"][0, -1, 0]) / 0.2
    # closed form: the brakes stop 1200 kg and four wheels of 1 kg at the tyre radius, whose spin leans on the axles as well
    assert slowing == pytest.approx(6000.0 / 1204.0, rel=1e-3)
    spin = 4.0 * 0.36 * slowing / 2.9
    # rtol: measured 1.2e-4, what is left of the settling after 2.8 s; two and a half times that
    assert load == pytest.approx(1489.66 * slowing / 5.0 + spin, rel=3e-4)
