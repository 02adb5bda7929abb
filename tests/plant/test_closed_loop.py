"""The closed loop: timing, independence of cases, what it refuses."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from dualduty.controller import ControllerOutput
from dualduty.errors import BadInput
from dualduty.shipped import shipped_calibrations
from dualduty.trace import Case, TraceChunk
from plant.closed_loop import drive
from plant.constant_duty import ConstantDuty
from plant.course import Course
from plant.sensors import SensorError, Sensors
from plant.vehicle import Vehicle, read_vehicle

Array = NDArray[np.float64]


def cars() -> tuple[Vehicle, Vehicle]:
    folder = shipped_calibrations() / "vehicles"
    return read_vehicle(folder / "marram.toml"), read_vehicle(folder / "marram_2.toml")


def bumps(distance: Array) -> tuple[Array, Array]:
    grown = np.clip(distance - 4.0, 0.0, 1.0)
    return 0.04 * grown * np.sin(1.3 * distance), 0.04 * grown * np.sin(1.1 * distance + 0.4)


def cases_of(count: int) -> tuple[Case, ...]:
    return tuple(Case(f"section {index}", "fixed", "fixed", seed=index) for index in range(count))


def run(
    courses: list[Course], vehicles: list[Vehicle], controller: Any = None, cases: tuple[Case, ...] = (), sensors: Sensors | None = None
) -> TraceChunk:
    cases = cases or cases_of(len(courses))
    controller = controller or ConstantDuty(len(courses), 0.3, 0.5)
    return drive(courses, vehicles, controller, cases, np.zeros(len(courses), int), sensors=sensors).whole()


@dataclasses.dataclass(frozen=True)
class StepUp(ConstantDuty):
    """Asks for full duty from one tick on."""

    at: int = 10

    def start(self) -> Any:
        """Count ticks."""
        return {"tick": 0}

    def run(self, sensed: Array, mode: NDArray[np.int16], memory: Any) -> ControllerOutput:
        """One tick."""
        now = dataclasses.replace(self, compression=float(memory["tick"] >= self.at), rebound=float(memory["tick"] >= self.at))
        memory["tick"] += 1
        return ConstantDuty.run(now, sensed, mode, None)


def test_controller_acts_one_tick_late_and_through_the_valve(make_course: Callable[..., Course]) -> None:
    vehicle = cars()[0].overlay(valve_delay=0.0, valve_hysteresis=0.0, valve_resolution=0.0)
    whole = run([make_course(0.1, 8.0)], [vehicle], StepUp(1))
    applied = whole.signals["applied_compression"][0, :, 0]
    assert np.flatnonzero(applied)[0] == 12  # asked at tick 10, latched during 11, reported at its end
    reached = whole.truth["reached_rebound"][0, :, 0]
    assert np.flatnonzero(reached)[0] == 2 * 11 + 1  # truth stands at the start of each plant step
    later = 1e-3 * np.arange(1, 6)
    np.testing.assert_allclose(reached[23:28], 1.0 - np.exp(-later / vehicle.valve_rise), rtol=1e-12)


def test_a_case_alone_is_the_case_in_a_batch_to_the_bit(make_course: Callable[..., Course]) -> None:
    courses = [make_course(0.6, 10.0, bumps), make_course(1.0, 14.0, bumps, curvature=0.01), make_course(0.4, 6.0)]
    vehicles = [*cars(), cars()[0]]
    typical = Sensors.typical(3)
    together = run(courses, vehicles, sensors=typical)
    for index, case in enumerate(cases_of(3)):
        alone = run([courses[index]], [vehicles[index]], cases=(case,), sensors=typical)
        ticks = alone.ticks
        for name, signal in alone.signals.items():
            assert np.array_equal(signal[:, :, 0], together.signals[name][:, :ticks, index]), name
        for name, signal in alone.truth.items():
            assert np.array_equal(signal[:, :, 0], together.truth[name][:, : 2 * ticks, index]), name


def test_a_case_stands_still_after_its_end(make_course: Callable[..., Course]) -> None:
    whole = run([make_course(0.2, 8.0, bumps), make_course(0.4, 8.0, bumps)], [cars()[0]] * 2)
    assert whole.running[0].sum(axis=0).tolist() == [100, 200]
    assert (whole.truth["distance"][0, 200:, 0] == whole.truth["distance"][0, 200, 0]).all()
    assert (np.diff(whole.truth["distance"][0, :, 1]) > 0.0).all()


def test_finer_ticks_of_the_controller_keep_the_plant_at_a_millisecond(make_course: Callable[..., Course]) -> None:
    vehicle, course = cars()[0], make_course(0.5, 10.0, bumps)
    coarse, fine = (run([course], [vehicle], ConstantDuty(1, 0.4, 0.4, dt=dt)) for dt in (0.004, 0.001))
    assert coarse.truth["heave"].shape == fine.truth["heave"].shape
    # Duties are reached from 0 after the first tick, 3 ms apart: measured 0.7 mm at most
    np.testing.assert_allclose(coarse.truth["true_travel"], fine.truth["true_travel"], atol=2e-3)


def test_same_seed_same_bits_and_noise_does_not_depend_on_the_candidate(make_course: Callable[..., Course]) -> None:
    course, vehicle = make_course(0.3, 10.0, bumps), cars()[0]
    typical = Sensors({**Sensors.typical(1).errors, "roll_rate": SensorError(dropout=0.2)}, 1)
    one, again = (run([course], [vehicle], cases=(Case("s", "one", "fixed", 4),), sensors=typical) for _ in range(2))
    other = run([course], [vehicle], cases=(Case("s", "two", "fixed", 4),), sensors=typical)
    seeded = run([course], [vehicle], cases=(Case("s", "one", "fixed", 5),), sensors=typical)
    for name, signal in one.signals.items():
        assert np.array_equal(signal, again.signals[name], equal_nan=True)
        assert np.array_equal(signal, other.signals[name], equal_nan=True)
    assert not np.array_equal(one.signals["shaft_travel"], seeded.signals["shaft_travel"])
    share = np.isnan(one.signals["roll_rate"]).mean()
    assert 0.05 < share < 0.4  # 150 draws of 20 %
    assert np.isfinite(one.signals["yaw_rate"]).all()


def test_signs_of_a_braked_left_turn(make_course: Callable[..., Course]) -> None:
    course = make_course(2.0, 12.0, curvature=0.03, brake=0.3)
    whole = run([course], [cars()[0]])
    late = {name: signal[0, -1, 0] for name, signal in {**whole.signals, **whole.truth}.items()}
    assert min(late[name] for name in ("yaw_rate", "specific_force_y", "roll", "pitch", "steer_angle", "brake")) > 0.0
    assert late["specific_force_x"] < 0.0
    assert whole.truth["wheel_load"][1, -1, 0] > whole.truth["wheel_load"][0, -1, 0]  # outer is right


def test_wheels_overspeed_in_the_air_and_follow_the_ground_on_it(make_course: Callable[..., Course]) -> None:
    def ledge(distance: Array) -> Array:
        return np.where(distance > 6.0, -2.0, 0.0)

    whole = run([make_course(1.0, 14.0, ledge, throttle=0.5)], [cars()[0]])
    spin = whole.signals["wheel_speed"][:, :, 0] - whole.truth["speed"][0, ::2, 0]
    assert np.abs(spin[:, 20:150]).max() < 0.8  # the slip that half throttle takes on the ground: 0.52 m/s
    assert spin.max() > 3.0


def test_progress_runs_to_one(make_course: Callable[..., Course]) -> None:
    seen: list[float] = []
    drive([make_course(1.2, 8.0)], [cars()[0]], ConstantDuty(1), cases_of(1), np.zeros(1, int), progress=seen.append)
    assert seen == [500 / 600, 1.0]


def test_a_keyboard_interrupt_passes_through(make_course: Callable[..., Course]) -> None:
    def interrupt(_share: float) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        drive([make_course(0.2, 8.0)], [cars()[0]], ConstantDuty(1), cases_of(1), np.zeros(1, int), progress=interrupt)


def test_a_runaway_names_case_and_time(make_course: Callable[..., Course]) -> None:
    stiff = cars()[0].overlay(compression_scale=5e3, rebound_scale=5e3, series_rate=0.0)
    with pytest.raises(BadInput, match=r"^section 0 · fixed · fixed: the motion ran away at 0\.\d+ s"):
        run([make_course(0.9, 10.0, bumps)], [stiff])


def test_arguments_that_do_not_fit(make_course: Callable[..., Course]) -> None:
    course, vehicle = make_course(0.2, 8.0), cars()[0]
    with pytest.raises(BadInput, match="vehicles is for 1 cases; expected 2"):
        drive([course] * 2, [vehicle], ConstantDuty(2), cases_of(2), np.zeros(2, int))
    holed = dataclasses.replace(course, ground=dataclasses.replace(course.ground, left=course.ground.left * np.nan))
    with pytest.raises(BadInput, match="course made: left is not finite at point 0"):
        run([holed], [vehicle])
    with pytest.raises(BadInput, match="no channel 'roll_angle'"):
        Sensors({"roll_angle": SensorError(noise=1.0)})
