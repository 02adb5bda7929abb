"""One section at constant duties: its objective at any setting, its best setting of hindsight, and what a search is asked for."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.errors import BadInput
from dualduty.scoring.measure import Measure
from dualduty.study.constant_runs import Setting, constant_scores, level_settings, split_settings
from dualduty.study.objectives import Objectives
from plant.course import Course
from plant.section import Section
from plant.sensors import Sensors
from plant.vehicle import Vehicle

Array = NDArray[np.float64]
Weighed = Callable[[Sequence[Setting]], Array]

POLISH: Final = (0.08, 0.04)  # duty steps
ROUNDS: Final = 5  # of each
FINALISTS: Final = 6  # settings that are driven on all seeds
THREADS: Final = 3  # compiled runs side by side


@dataclass(frozen=True, eq=False)
class Plan:
    """What is driven: sections by name, seeds, the vehicle by the lag of its valves, modes, sensors, and what counts."""

    sections: tuple[Section, ...]
    seeds: tuple[int, ...]
    vehicles: Mapping[str, Vehicle]
    modes: tuple[str, ...]
    sensors: Sensors
    objectives: Objectives
    levels: tuple[Setting, ...] = field(default_factory=lambda: tuple(level_settings()))
    splits: tuple[Setting, ...] = field(default_factory=lambda: tuple(split_settings()))

    @property
    def settings(self) -> tuple[Setting, ...]:
        """All constant settings of the two grids."""
        return (*self.levels, *self.splits)

    @property
    def measures(self) -> tuple[Measure, ...]:
        """What the objectives of these sections weigh."""
        named = {name for section in self.sections for name in self.objectives.of(section.name).weights}
        return tuple(measure for measure in self.objectives.measures if measure.name in named)


class Bench:
    """One section's constant runs: courses by seed, and the reference that every measure is divided by."""

    def __init__(self, section: Section, plan: Plan, vehicle: Vehicle) -> None:
        self.plan, self.vehicle = plan, vehicle
        built = [section.build(seed) for seed in plan.seeds]
        self.courses = built if any(_differ(built[0], one) for one in built[1:]) else built[:1]  # no chance in it: once is enough
        self.objective = plan.objectives.of(section.name)
        self.weights = np.array([self.objective.weights.get(measure.name, 0.0) for measure in plan.measures])
        reference: Setting = (*plan.objectives.reference, *plan.objectives.reference)
        floors = np.array([plan.objectives.floors.get(measure.name, 0.0) for measure in plan.measures])
        self.reference = [self.raw(course, [reference])[:, 0] for course in self.courses]
        self.scales = [np.maximum(values, floors) for values in self.reference]

    def raw(self, course: Course, settings: Sequence[Setting]) -> Array:
        """Measures at settings on one course, (measure, setting). [SI]"""
        return constant_scores(self.vehicle, course, settings, self.plan.measures)

    def asked(self) -> list[Any]:
        """What decides the outcome of a search, the numbers of the plant apart."""
        plan = self.plan
        kept = [POLISH, ROUNDS, FINALISTS, plan.seeds, plan.settings, [measure.name for measure in plan.measures]]
        return [*kept, self.weights.tolist(), [scale.tolist() for scale in self.scales]]

    def driven(self) -> list[list[float]]:
        """What the reference gave, seed by seed."""
        return [values.tolist() for values in self.reference]

    def terms(self, values: Sequence[Array]) -> Array:
        """Weighted terms of measures given seed by seed, (measure, case), mean over these seeds."""
        weighs = self.weights[:, None] > 0
        scales = self.scales * len(values) if len(self.scales) == 1 else self.scales
        weighted = [self.weights[:, None] * value / scale[:, None] for value, scale in zip(values, scales, strict=False)]
        found = np.where(weighs, np.mean(weighted, axis=0), 0.0)
        if np.isnan(found).any():
            name = self.plan.measures[int(np.argwhere(np.isnan(found))[0][0])].name
            raise BadInput(f"{self.plan.objectives.file}: kind.{self.objective.kind}", f"{name} has no value on {self.courses[0].name}")
        return np.asarray(found)

    def screened(self, settings: Sequence[Setting]) -> Array:
        """Objective of settings on the first seed, (setting,)."""
        return np.asarray(self.terms([self.raw(self.courses[0], settings)]).sum(axis=0))

    def constants(self, settings: Sequence[Setting]) -> Array:
        """Objective of settings on all seeds, (setting,)."""
        with ThreadPoolExecutor(THREADS) as threads:
            values = list(threads.map(lambda course: self.raw(course, settings), self.courses))
        return np.asarray(self.terms(values).sum(axis=0))


def _differ(one: Course, other: Course) -> bool:
    return not (np.array_equal(one.ground.left, other.ground.left) and np.array_equal(one.ground.right, other.ground.right))


def best_setting(plan: Plan, screened: Array, objective: Weighed, polishing: Weighed | None = None) -> tuple[Setting, float]:
    """The best setting on all seeds, with its objective: of the finalists of the screening, polished (by another objective if given)."""
    finalists = [plan.settings[number] for number in np.argsort(screened)[:FINALISTS]]
    values = objective(finalists)
    best, value = finalists[int(np.argmin(values))], float(values.min())
    if polishing is None:
        return polished(best, value, objective)
    other, _ = polished(best, float(polishing([best])[0]), polishing)
    found = float(objective([other])[0])
    return (other, found) if found < value else (best, value)


def polished(start: Setting, value: float, objective: Weighed) -> tuple[Setting, float]:
    """A setting improved by steps in one duty at a time, both ways, until none helps; then by smaller steps."""
    best = start
    for step in POLISH:
        for _ in range(ROUNDS):
            near = [_moved(best, duty, sign * step) for duty in range(4) for sign in (-1.0, 1.0)]
            values = objective(near)
            if not values.min() < value:
                break
            best, value = near[int(np.argmin(values))], float(values.min())
    return best, value


def _moved(setting: Setting, duty: int, step: float) -> Setting:
    moved = list(setting)
    moved[duty] = min(max(round(moved[duty] + step, 6), 0.0), 1.0)  # a setting that one can say
    return as_setting(moved)


def as_setting(duties: Sequence[float]) -> Setting:
    """Four duties as a setting."""
    return (float(duties[0]), float(duties[1]), float(duties[2]), float(duties[3]))
