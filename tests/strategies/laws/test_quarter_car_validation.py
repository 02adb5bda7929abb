"""The quarter cars of these tests are the linear ones: passive runs against transfer functions."""

from __future__ import annotations

import numpy as np
import pytest

from strategies.laws.fixed_duty import FixedDuty
from tests.strategies.laws.plain_laws import passive
from tests.strategies.laws.quarter_car import SET_A, SET_B, Bench, Corner, Lines, by_case, passive_acceleration, sines


@pytest.mark.validates("transfer function of the linear quarter car, summed over the lines of the ground; closed form")
@pytest.mark.parametrize("corner", [SET_A, SET_B], ids=["A", "B"])
def test_passive_runs_agree_with_the_transfer_function(corner: Corner) -> None:
    damping = np.array([1500.0, 2500.0, 4000.0])
    lines = Lines.iso(256e-6, 20.0, seed=1)
    measured = Bench(corner, valve_time=0.0).drive(passive(damping, corner), lines.ground(3)).rms("acceleration", 8.0)
    # measured 3.8e-5 (A at 1500 N·s/m: what is left of the start after 3 s); 1e-6 and less at the firmer ones
    np.testing.assert_allclose(measured, lines.rms(passive_acceleration(corner, damping)), rtol=1e-4)


@pytest.mark.validates("one mass on a moving base: T = sqrt((1 + (2 zeta r)^2) / ((1 - r^2)^2 + (2 zeta r)^2)); closed form")
def test_a_fixed_wheel_is_one_mass_on_a_base() -> None:
    ratio, zeta = np.array([0.6, 1.0, 2.0, 5.0]), 0.7
    mass = Corner(1.0, 1.0, (2.0 * np.pi) ** 2, 1.0, 0.0, 8.0 * np.pi, fixed_wheel=1.0)
    duty = by_case(np.full(4, 0.5 * zeta))
    drive = Bench(mass, valve_time=0.0).drive(FixedDuty(compression=duty, rebound=duty), sines(ratio, 20.0, tick=0.002))
    expected = np.sqrt((1 + (2 * zeta * ratio) ** 2) / ((1 - ratio**2) ** 2 + (2 * zeta * ratio) ** 2))
    # measured 6e-10: RK4 at 1 ms
    np.testing.assert_allclose(drive.first_harmonic("body_height", ratio, 10.0) / 0.001, expected, rtol=1e-8)
