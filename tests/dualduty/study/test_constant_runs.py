"""Constant duties: compiled runs are the closed loop with a constant controller, valve lag is nothing to them, polishing works."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from dualduty.scoring.measure import Measure
from dualduty.scoring.score import score
from dualduty.shipped import shipped_calibrations
from dualduty.study.constant_bench import Bench, Plan, polished
from dualduty.study.constant_runs import Setting, constant_scores, level_settings, said, split_settings
from dualduty.study.objectives import read_objectives
from dualduty.trace import Case
from dualduty.trial.clock import DT
from plant.closed_loop import drive
from plant.constant_duty import ConstantDuty
from plant.course import Course
from plant.section import read_section
from plant.sensors import Sensors
from plant.vehicle import Vehicle, read_vehicle

SHIPPED = shipped_calibrations()
SETTINGS: tuple[Setting, ...] = ((0.2, 0.4, 0.2, 0.4), (0.6, 0.1, 0.3, 0.8))


@pytest.fixture(scope="module")
def vehicle() -> Vehicle:
    """The second car."""
    return read_vehicle(SHIPPED / "vehicles" / "marram_2.toml")


@pytest.fixture(scope="module")
def course() -> Course:
    """The jump, up to shortly after landing."""
    section = read_section(SHIPPED / "sections" / "kicker_jump.toml")
    return replace(section, duration=2.6).build()


@pytest.fixture(scope="module")
def measures() -> tuple[Measure, ...]:
    """All that any objective weighs."""
    return read_objectives(SHIPPED / "objectives.toml").measures


def test_as_the_closed_loop_with_a_constant_controller(vehicle: Vehicle, course: Course, measures: tuple[Measure, ...]) -> None:
    sides = [np.array([[one[side], one[side], one[side + 2], one[side + 2]] for one in SETTINGS]).T[:, None, :] for side in (0, 1)]
    cases = tuple(Case(course.name, said(one), "fixed") for one in SETTINGS)
    trace = drive([course] * 2, [vehicle] * 2, ConstantDuty(2, sides[0], sides[1], DT), cases, np.zeros(2, np.int16))
    scored = score(trace, vehicle.car, measures).values
    # rtol: both are the same kernel over the same steps; measured equal to the bit
    np.testing.assert_allclose(constant_scores(vehicle, course, SETTINGS, measures), scored, rtol=1e-12)


def test_valve_lag_means_nothing_to_a_constant(vehicle: Vehicle, course: Course, measures: tuple[Measure, ...]) -> None:
    slow = vehicle.overlay(valve_rise=0.02, valve_fall=0.02)
    own, other = (constant_scores(car, course, SETTINGS, measures) for car in (vehicle, slow))
    np.testing.assert_array_equal(own, other)


def test_grids_hold_no_setting_twice() -> None:
    every = [*level_settings(), *split_settings()]
    assert len(set(every)) == len(every)
    assert all(front != rear for front, rear in ((one[:2], one[2:]) for one in split_settings()))


def test_said() -> None:
    assert said((0.2, 0.4, 0.2, 0.4)) == "20/40 %"
    assert said((0.2, 0.4, 0.3, 0.8)) == "20/40 front, 30/80 rear %"


def test_polishing_ends_near_the_floor_of_a_bowl() -> None:
    floor = np.array([0.31, 0.52, 0.0, 1.0])

    def bowl(settings: Sequence[Setting]) -> NDArray[np.float64]:
        return np.asarray(1.0 + ((np.array(settings) - floor) ** 2).sum(axis=1))

    best, value = polished((0.3, 0.55, 0.1, 0.9), float(bowl([(0.3, 0.55, 0.1, 0.9)])[0]), bowl)
    assert np.abs(np.array(best) - floor).max() <= 0.04  # the smaller step
    assert value == pytest.approx(bowl([best])[0])
    assert all(0.0 <= duty <= 1.0 for duty in best)


def test_a_section_without_chance_is_driven_once(vehicle: Vehicle) -> None:
    objectives = read_objectives(SHIPPED / "objectives.toml")
    sections = tuple(replace(read_section(SHIPPED / "sections" / f"{name}.toml"), duration=1.0) for name in ("kicker_jump", "iso_road"))
    plan = Plan(sections, (1, 2), {"as built": vehicle}, ("dash",), Sensors.typical(), objectives, levels=SETTINGS, splits=())
    jump, road = (Bench(section, plan, vehicle) for section in sections)
    assert (len(jump.courses), len(road.courses)) == (1, 2)
    reference = (*objectives.reference, *objectives.reference)
    # 1 by definition where no floor is at work; on these two short stretches the road's travel and loads are above theirs
    assert road.constants([reference])[0] == pytest.approx(1.0, abs=1e-12)
    assert jump.terms([jump.reference[0][:, None]] * 2).sum() == pytest.approx(jump.constants([reference])[0])
