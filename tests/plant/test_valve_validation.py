"""The valve chain against closed forms: dead time, lag, steps, deadband, hysteresis, current, heat, and no power."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from plant.course import Course
from plant.free_run import run_through
from plant.vehicle import Vehicle

Array = NDArray[np.float64]
STEP = 1e-3  # s, controller tick and plant step
QUICK = {"valve_rise": 1e-6, "valve_fall": 1e-6}


@pytest.fixture
def reach(plain_vehicle: Callable[..., Vehicle], make_course: Callable[..., Course]) -> Callable[..., dict[str, Array]]:
    """Truth of the front-left compression valve, (time,), of a parked vehicle whose eight duties follow `duty`, (time,)."""

    def run(duty: Array, **numbers: float) -> dict[str, Array]:
        vehicle = plain_vehicle(500.0, **numbers)
        latched = np.broadcast_to(duty[None, :, None], (8, duty.size, 1))
        seen = run_through([vehicle], [make_course(duty.size * STEP, 0.0)], latched, tick=STEP, step=STEP)
        return {name: values[0, :, 0] for name, values in seen.truth.items()}

    return run


def stepped(at: int, low: float, high: float, ticks: int = 200) -> Array:
    return np.where(np.arange(ticks) < at, low, high).astype(float)


@pytest.mark.validates("first-order lag, closed form: 1 - exp(-t/tau) of a step, 63.2 % of it at tau; rise and fall by their own tau")
def test_rise_and_fall(reach: Callable[..., dict[str, Array]]) -> None:
    up = reach(stepped(50, 0.2, 0.8), valve_rise=0.01, valve_fall=0.03)["reached_compression"]
    down = reach(stepped(50, 0.8, 0.2), valve_rise=0.01, valve_fall=0.03)["reached_compression"]
    time = STEP * np.arange(150)
    # atol: exact by construction, measured 2e-16
    np.testing.assert_allclose(up[50:], 0.8 - 0.6 * np.exp(-time / 0.01), atol=1e-13)
    np.testing.assert_allclose(down[50:], 0.2 + 0.6 * np.exp(-time / 0.03), atol=1e-13)
    assert (up[60] - 0.2) / 0.6 == pytest.approx(0.632, abs=5e-4)


@pytest.mark.validates("dead time, closed form: the answer is the undelayed one, later by it")
def test_dead_time(reach: Callable[..., dict[str, Array]]) -> None:
    duty = np.random.default_rng(3).uniform(0.0, 1.0, 40).repeat(5)
    prompt = reach(duty)["reached_compression"]
    late = reach(duty, valve_delay=0.007)["reached_compression"]
    np.testing.assert_array_equal(late[:7], duty[0])  # valves have rested at their first command
    np.testing.assert_allclose(late[7:], prompt[:-7], atol=1e-15)


@pytest.mark.validates("rounding to a grid, closed form")
def test_resolution(reach: Callable[..., dict[str, Array]]) -> None:
    ramp = np.linspace(0.0, 1.0, 201)
    reached = reach(ramp, valve_resolution=0.05, **QUICK)["reached_compression"]
    np.testing.assert_allclose(reached[1:], 0.05 * np.floor(ramp[:-1] / 0.05 + 0.5), atol=1e-12)


@pytest.mark.validates("deadband, closed form: nothing below it, all of it at full")
def test_deadband(reach: Callable[..., dict[str, Array]]) -> None:
    ramp = np.linspace(0.0, 1.0, 201)
    reached = reach(ramp, valve_deadband=0.1, **QUICK)["reached_compression"]
    np.testing.assert_allclose(reached[1:], np.maximum(ramp[:-1] - 0.1, 0.0) / 0.9, atol=1e-12)


@pytest.mark.validates("play operator, closed form: rising and falling branches lie the hysteresis' width apart and meet at none and full")
def test_hysteresis(reach: Callable[..., dict[str, Array]]) -> None:
    ramp = np.concatenate([np.linspace(0.0, 1.0, 501), np.linspace(1.0, 0.0, 501)])
    reached = reach(ramp, valve_hysteresis=0.04, **QUICK)["reached_compression"][1:]
    rising, falling, duty = reached[:500], reached[501:][::-1], ramp[:500]
    middle = slice(100, 400)
    at_rising, at_falling = np.interp(0.5, rising, duty), np.interp(0.5, falling, duty[: falling.size])
    # abs: the grid of the ramp is 0.002
    assert at_rising - at_falling == pytest.approx(0.04, abs=4e-3)
    np.testing.assert_allclose(rising[middle], (duty[middle] - 0.04) / 0.96, atol=3e-3)
    assert reached.min() == 0.0
    assert reached.max() == pytest.approx(1.0, abs=1e-12)


@pytest.mark.validates("Ohm's law: a held current is cut by supply / resistance; a share of the supply follows supply and hot copper")
def test_supply_and_hot_coil(reach: Callable[..., dict[str, Array]]) -> None:
    full = np.full(20, 1.0)
    hot = 1.0 + 3.93e-3 * (120.0 - 20.0)  # copper, as declared
    numbers = {"full_current": 2.0, "coil_resistance": 5.0, "oil_start": 120.0, "oil_cooling": 0.0, "oil_draught": 0.0, **QUICK}
    held = reach(full, supply=13.0, coil_capacity=1e4, **numbers)["current_compression"]
    # abs: 0.02 s of 2 A warm a coil of 10 kJ/K by 4e-5 K
    assert held[-1] == pytest.approx(13.0 / (5.0 * hot), abs=1e-5)
    shared = reach(0.5 * full, supply=10.8, supply_reference=13.5, current_held=0.0, coil_capacity=1e4, **numbers)
    assert shared["current_compression"][-1] == pytest.approx(2.0 * 0.5 * 10.8 / 13.5 / hot, abs=1e-5)
    assert shared["reached_compression"][-1] == pytest.approx(0.5 * 10.8 / 13.5 / hot, abs=1e-5)


@pytest.mark.validates("heat balance, closed form: a coil settles at I² R(T) = h (T - T_oil), with time constant C / (h - I² R' )")
def test_coil_warms_to_its_balance(reach: Callable[..., dict[str, Array]]) -> None:
    numbers = {"full_current": 1.0, "coil_resistance": 5.0, "supply": 60.0, "coil_capacity": 0.05, "coil_cooling": 0.5, "oil_start": 20.0,
               "oil_capacity": 1e5, "oil_cooling": 0.0, "oil_draught": 0.0, "supply_reference": 60.0, "current_held": 0.0}  # fmt: skip
    # As a share of the supply: I = I0 / (1 + a dT); balance I0² R0 / (1 + a dT) = h dT.
    growth, loss, cooling = 3.93e-3, 5.0, 0.5
    warming = (-1.0 + np.sqrt(1.0 + 4.0 * growth * loss / cooling)) / (2.0 * growth)
    current = reach(np.full(4000, 1.0), **numbers, **QUICK)["current_compression"][-1]
    # rel: oil takes up 4 s of 5 W in 100 kJ/K, 2e-4 K
    assert current == pytest.approx(1.0 / (1.0 + growth * warming), rel=1e-5)


@pytest.mark.validates("stated behaviour without power: the valve's own spring, with its lag, puts it where it belongs; no current")
@pytest.mark.parametrize("deadband", [0.0, 0.1])
def test_without_power(reach: Callable[..., dict[str, Array]], deadband: float) -> None:
    duty = stepped(50, 0.6, np.nan)
    truth = reach(duty, unpowered_compression=0.9, valve_rise=0.01, valve_deadband=deadband)
    time = STEP * np.arange(150)
    before = truth["reached_compression"][49]
    np.testing.assert_allclose(truth["reached_compression"][50:], 0.9 + (before - 0.9) * np.exp(-time / 0.01), atol=1e-12)
    assert truth["current_compression"][49] > 0.5
    np.testing.assert_array_equal(truth["current_compression"][51:], 0.0)
