"""What a damper does beyond its map, against closed forms: yielding, heat, zones, crosstalk, extrapolation, and the two-valve form."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from dualduty.controller import ControllerOutput
from dualduty.signals import CONTROLLER_LAYOUT
from dualduty.trace import Case
from plant.closed_loop import drive
from plant.constant_duty import ConstantDuty
from plant.course import Course
from plant.equilibrium import rates_at, standing
from plant.free_run import run_through
from plant.rows import BEYOND, DAMPER, HUB, HUB_SPEED
from plant.vehicle import Vehicle, Zone
from tests.plant.conftest import TRAVEL, linear_map

Array = NDArray[np.float64]
Make = Callable[..., Vehicle]
Courses = Callable[..., Course]


def damper_at(vehicle: Vehicle, shaft_speed: float, duty: Any = 0.0) -> Array:
    """Force of the four dampers, and whether their maps are extrapolated, at ride height: (2, 4)."""
    state = standing(vehicle)
    state[HUB_SPEED : HUB_SPEED + 4] = shaft_speed / vehicle.car.motion_ratio
    report = rates_at(vehicle, state[None], duty=duty)[1][0]
    return np.stack([report[DAMPER : DAMPER + 4], report[BEYOND : BEYOND + 4]])


@pytest.mark.validates("Maxwell's element, closed form: force over speed is c / (1 + i w c / k)")
@pytest.mark.parametrize("series_rate", [2e5, 1e6])
def test_series_compliance_lags_as_a_maxwell_element(plain_vehicle: Make, make_course: Courses, series_rate: float) -> None:
    damping, hertz, length = 1500.0, 6.0, 2.0
    vehicle = plain_vehicle(damping, series_rate=series_rate, cg_height=0.36, grip=0.0, drive_force=0.0, brake_force=0.0)
    course = make_course(4.0, hertz * length, lambda s: 2e-5 * np.sin(2 * np.pi * s / length), 0.002)
    truth = run_through([vehicle], [course], 0.0, tick=2.5e-4, step=2.5e-4).truth
    settled = slice(12000, None)
    phase = 2 * np.pi * truth["distance"][0, settled, 0] / length
    basis = np.stack([np.sin(phase), np.cos(phase), np.ones_like(phase)], axis=1)
    found = [np.linalg.lstsq(basis, truth[name][0, settled, 0], rcond=None)[0] for name in ("damper_force", "true_shaft_speed")]
    force, speed = (one[1] - 1j * one[0] for one in found)  # cos - i sin is exp(iwt)
    expected = damping / (1.0 + 2j * np.pi * hertz * damping / series_rate)
    # measured 2.6e-8 and 1.1e-8; four times the larger
    assert abs(force / speed / expected - 1.0) < 1e-7


@pytest.mark.validates("closed form: a spring in series that settles within a step is a rigid one")
def test_a_very_stiff_series_spring_is_rigid(plain_vehicle: Make, make_course: Courses) -> None:
    course = make_course(1.5, 8.0, lambda s: 0.03 * np.sin(np.pi * s) * (s > 4.0))
    rigid, stiff = (run_through([plain_vehicle(1500.0, series_rate=rate)], [course], 0.0).truth for rate in (0.0, 1e8))
    reached = np.abs(rigid["damper_force"]).max()
    # measured 1.6 % of the largest force: a lag of two thirds of a step of 1 ms; not quite twice that
    assert np.abs(rigid["damper_force"] - stiff["damper_force"]).max() < 0.03 * reached


@pytest.mark.validates("heat balance, closed form: steady oil temperature T_air + P / (h + h_v v), reached in time")
def test_oil_warms_to_its_balance(plain_vehicle: Make, make_course: Courses) -> None:
    numbers = {
        "oil_capacity": 10.0,
        "oil_cooling": 9.0,
        "oil_draught": 0.5,
        "oil_start": 20.0,
        "air_temperature": 20.0,
        "oil_fade": 0.0,
        "coil_cooling": 0.0,
    }
    vehicle = plain_vehicle(2000.0, cg_height=0.36, grip=0.0, drive_force=0.0, brake_force=0.0, **numbers)
    course = make_course(6.0, 10.0, lambda s: 0.004 * np.sin(np.pi * s), 0.005)
    truth = run_through([vehicle], [course], 0.0).truth
    power = (truth["damper_force"] * truth["true_shaft_speed"])[:, -1000:].mean(axis=(1, 2))
    cooling = 9.0 + 0.5 * truth["speed"][0, -1000:, 0].mean()
    warm = truth["oil_temperature"][:, -1000:].mean(axis=(1, 2)) - 20.0
    assert power.min() > 5.0
    # rel: measured 2.2e-3: over 2 s the waves slow the vehicle, and heat follows with 0.7 s; twice that
    np.testing.assert_allclose(warm, power / cooling, rtol=5e-3)


@pytest.mark.validates("stated law: force falls by the fade times the degrees above the map's reference")
def test_fade(plain_vehicle: Make) -> None:
    cold, hot = (damper_at(plain_vehicle(1000.0, oil_fade=0.002, oil_reference=40.0, oil_start=at), 0.5)[0] for at in (40.0, 90.0))
    np.testing.assert_allclose(hot, 0.9 * cold, rtol=1e-12)
    np.testing.assert_allclose(cold, 500.0, rtol=1e-12)


@pytest.mark.validates("stated law: a zone multiplies its own side's force over travel, straight between points, held at the ends")
@pytest.mark.parametrize(("beyond", "expected"), [(-TRAVEL, 1.0), (0.0, 1.0), (0.05, 1.25), (0.1, 1.5), (0.3, 1.5)])
def test_position_zone(plain_vehicle: Make, beyond: float, expected: float) -> None:
    zone = Zone(np.array([TRAVEL, TRAVEL + 0.1]), np.array([1.0, 1.5]))
    vehicle = replace(plain_vehicle(1000.0), zones={"compression": (None, None, zone, zone)})
    state = standing(vehicle)
    state[HUB : HUB + 4] += beyond  # motion ratio 1
    for speed, rear in ((0.5, expected), (-0.5, 1.0)):
        state[HUB_SPEED : HUB_SPEED + 4] = speed
        report = rates_at(vehicle, state[None])[1][0]
        # rel: travel is a difference of heights
        np.testing.assert_allclose(report[DAMPER : DAMPER + 4] / (1000.0 * speed), [1.0, 1.0, rear, rear], rtol=1e-9)


@pytest.mark.validates("stated law: a side's force grows by the crosstalk times the other side's duty")
def test_crosstalk(plain_vehicle: Make) -> None:
    vehicle = plain_vehicle(linear_map(400.0, 2000.0), compression_crosstalk=0.06, rebound_crosstalk=-0.02)
    duty = np.array([0.5] * 4 + [0.25] * 4)
    np.testing.assert_allclose(damper_at(vehicle, 1.0, duty)[0], 1200.0 * (1.0 + 0.06 * 0.25), rtol=1e-12)
    np.testing.assert_allclose(damper_at(vehicle, -1.0, duty)[0], -800.0 * (1.0 - 0.02 * 0.5), rtol=1e-12)


@pytest.mark.validates("the plant's table is the damper map: bilinear, last slope held, and said to be beyond the tested speeds")
def test_table_is_the_map(plain_vehicle: Make) -> None:
    speeds = np.array([0.0, 0.05, 0.1, 0.17, 0.4, 0.9, 2.1, 3.0])
    forces = 900.0 * np.sqrt(speeds)[:, None] * np.array([0.3, 0.5, 1.1, 2.0]) + 10.0 * speeds[:, None]
    damper_map = replace(linear_map(1.0, 1.0), speeds=speeds, duties=np.array([0.0, 0.2, 0.6, 1.0]), forces=forces)
    vehicle = plain_vehicle(damper_map)
    for speed in np.concatenate([np.linspace(0.0, 4.5, 61), speeds]):
        for duty in (0.0, 0.13, 0.2, 0.77, 1.0):
            force, beyond = damper_at(vehicle, float(speed), duty)
            wanted = damper_map.force(np.full((1, 1, 1), speed), np.full((1, 1, 1), duty))[0, 0, 0]
            # rel: the same numbers in another order of operations
            np.testing.assert_allclose(force, wanted, rtol=1e-11, atol=1e-9)
            np.testing.assert_array_equal(beyond, float(speed > speeds[-1] + 1e-12) if abs(speed - speeds[-1]) > 1e-9 else beyond)


@dataclass(frozen=True)
class SpringFollowing(ConstantDuty):
    """Duties that follow the travel about ride height: compression where it is short, rebound where it is long.

    `one` makes it a damper with one valve: both sides get the duty of the side that the shaft's sign picks.
    """

    one: bool = False

    def start(self) -> dict[str, Array]:
        """Remember the travel."""
        return {}

    def run(self, sensed: Array, mode: NDArray[np.int16], memory: Any) -> ControllerOutput:
        """Duties of this tick."""
        travel = sensed[CONTROLLER_LAYOUT.rows["shaft_travel"]]
        speed = travel - memory.get("travel", travel)
        memory["travel"] = travel.copy()
        up, down = np.clip(20.0 * (travel - TRAVEL), 0.0, 1.0), np.clip(20.0 * (TRAVEL - travel), 0.0, 1.0)
        if self.one:
            up = down = np.where(speed >= 0.0, up, down)
        return replace(super().run(sensed, mode, memory), duty={"compression": up, "rebound": down})


@pytest.mark.validates("identity: check valves pick the side, so with instant valves and control at every step two duties do what one does")
def test_two_duties_and_one_coincide_with_instant_valves(plain_vehicle: Make, make_course: Courses) -> None:
    quick = {"valve_rise": 1e-6, "valve_fall": 1e-6, "drive_force": 0.0, "brake_force": 0.0}
    vehicle = plain_vehicle(linear_map(300.0, 4000.0), **quick)
    course = make_course(2.0, 8.0, lambda s: 0.03 * np.sin(np.pi * s) * (s > 4.0))
    apart, size = [], 1.0
    for step in (1e-3, 5e-4, 2.5e-4):
        ends = [
            drive([course], [vehicle], SpringFollowing(1, dt=step, one=one), (Case("a", "b", "fixed"),), np.zeros(1, int)).whole().truth
            for one in (False, True)
        ]
        size = np.ptp(ends[0]["true_travel"])
        apart.append(np.abs(ends[0]["true_travel"] - ends[1]["true_travel"]).max() / size)
    # What is left is the sign of the shaft speed held from tick to tick. Measured 8.1e-4, 2.0e-4, 5.9e-5: as the step squared.
    assert apart[0] < 1.6e-3
    assert (np.array(apart[1:]) < 0.4 * np.array(apart[:-1])).all()
    slow = replace(vehicle, valve_rise=0.03, valve_fall=0.03)
    lagging = [
        drive([course], [slow], SpringFollowing(1, dt=1e-3, one=one), (Case("a", "b", "fixed"),), np.zeros(1, int)).whole().truth
        for one in (False, True)
    ]
    assert np.abs(lagging[0]["true_travel"] - lagging[1]["true_travel"]).max() / size > 0.05  # with a lag they part: measured 12 %
