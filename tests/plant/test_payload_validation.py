"""A load, a softer spring: where the vehicle stands then, what it weighs where, and how it resists turning."""

from __future__ import annotations

import numpy as np
import pytest

from dualduty.shipped import shipped_calibrations
from dualduty.units import STANDARD_GRAVITY
from plant.equilibrium import rates_at, standing
from plant.packed import extended_ratio
from plant.payload import laden
from plant.ride_height import settled
from plant.rows import LOAD, ROLL, TRAVEL
from plant.vehicle import Payload, Vehicle, read_vehicle

LOAD_OF_TEST = Payload(name="two", mass=160.0, behind=1.32 + 0.6, left=0.2, height=0.9)


@pytest.fixture(scope="module")
def marram() -> Vehicle:
    """The shipped type; the numbers of its file are rounded."""
    return read_vehicle(shipped_calibrations() / "vehicles" / "marram.toml")


def at_rest(vehicle: Vehicle, what: int) -> np.ndarray:
    """Four rows of the report where the vehicle stands."""
    return np.asarray(rates_at(vehicle, standing(vehicle)[None])[1][0, what : what + 4])


@pytest.mark.validates("closed form: axle loads by the lever rule about the other axle; sum of moments is 0")
def test_axle_and_side_loads_by_lever(marram: Vehicle) -> None:
    before = marram.car
    gain = laden(marram, LOAD_OF_TEST).car.static_wheel_load - at_rest(marram, LOAD)
    weight = LOAD_OF_TEST.mass * STANDARD_GRAVITY
    assert gain.sum() == pytest.approx(weight, rel=1e-9)
    # rel: measured 1e-12 on the axles, to which the plant's pitch is linear
    assert gain[:2].sum() == pytest.approx(weight * (before.rear_arm - 0.6) / before.wheelbase, rel=1e-9)
    after = laden(marram, LOAD_OF_TEST)
    leaning = (
        after.car.sprung_mass * STANDARD_GRAVITY * after.cg_height * -standing(after)[ROLL]
    )  # about the ground; less about a roll axis
    assert weight * 0.2 < (gain * before.side).sum() < weight * 0.2 + leaning


@pytest.mark.validates("closed form: moment of inertia of a body and a point about their common centre of gravity (parallel axes)")
def test_inertia_about_the_new_centre_of_gravity(marram: Vehicle) -> None:
    after = laden(marram, LOAD_OF_TEST)
    masses = np.array([marram.car.sprung_mass, LOAD_OF_TEST.mass])
    places = np.array([[0.0, 0.0, marram.cg_height], [-0.6, 0.2, 0.9]])  # ahead, left, up
    centre = masses @ places / masses.sum()
    square = (masses[:, None] * (places - centre) ** 2).sum(axis=0)
    assert after.car.roll_inertia == pytest.approx(marram.car.roll_inertia + square[1] + square[2], rel=1e-12)
    assert after.car.pitch_inertia == pytest.approx(marram.car.pitch_inertia + square[0] + square[2], rel=1e-12)
    assert marram.car.front_arm - after.car.front_arm == pytest.approx(centre[0], rel=1e-12)
    assert after.cg_left == pytest.approx(centre[1], rel=1e-12)
    assert after.extended_drop[0] - marram.extended_drop[0] == pytest.approx(centre[2] - marram.cg_height, rel=1e-12)


@pytest.mark.validates("balance of forces: the numbers of ride height are where the laden vehicle stands, its links as built")
def test_laden_numbers_are_its_own_equilibrium(marram: Vehicle) -> None:
    after = laden(marram, LOAD_OF_TEST)
    # atol: rounds end at 1e-10 m; the links' curve is solved to rounding
    np.testing.assert_allclose(at_rest(after, TRAVEL), after.car.static_travel, atol=1e-9)
    np.testing.assert_allclose(at_rest(after, LOAD), after.car.static_wheel_load, rtol=1e-7)
    np.testing.assert_allclose(extended_ratio(after), extended_ratio(marram), rtol=1e-9)
    assert (after.car.static_travel[2:] > marram.car.static_travel[2:] + 0.005).all()


@pytest.mark.validates("closed form: with a light payload the shaft sinks by motion ratio times load over the rate at the shaft")
def test_a_small_load_over_one_axle_sinks_it_by_its_rate(marram: Vehicle) -> None:
    plain = marram.overlay(motion_ratio_rise=0.0)
    after = laden(plain, Payload(name="bag", mass=2.0, behind=plain.car.wheelbase, left=0.0, height=plain.cg_height))
    rate = plain.spring_rate[2] + plain.gas_rate[2]
    sunk = 0.5 * 2.0 * STANDARD_GRAVITY / plain.car.motion_ratio[2] / rate
    # rel: measured 2e-5; below the crossover of its second spring the strut is linear
    assert (at_rest(after, TRAVEL) - at_rest(plain, TRAVEL))[2:] == pytest.approx([sunk, sunk], rel=1e-3)


@pytest.mark.validates("identity: a vehicle that stands where its numbers say is not touched")
def test_settling_a_settled_vehicle_changes_nothing(marram: Vehicle) -> None:
    assert settled(marram) is marram
    softer = settled(marram.overlay(spring_rate=0.95 * marram.spring_rate))
    assert settled(softer) is softer
    assert (softer.car.static_travel > marram.car.static_travel).all()
    assert softer.cg_height < marram.cg_height


@pytest.mark.validates("identity: two loads one after the other stand where they are in the body, in either order")
def test_the_order_of_loading_hardly_matters(marram: Vehicle) -> None:
    other = Payload(name="kit", mass=45.0, behind=2.4, left=-0.3, height=0.95)
    first, second = laden(laden(marram, LOAD_OF_TEST), other), laden(laden(marram, other), LOAD_OF_TEST)
    assert first.car.front_arm == pytest.approx(second.car.front_arm, rel=1e-12)
    # rtol: a height is said over the ground the body stands at, which the first load lowers by millimetres: measured 1.5e-7
    np.testing.assert_allclose(first.car.static_wheel_load, second.car.static_wheel_load, rtol=1e-6)
