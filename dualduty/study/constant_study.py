"""Is there a constant setting that does what the strategy does? Its best settings of hindsight against it, section by section.

The objectives are read from a file that was written before anything was tuned. Every section is driven with every constant
setting of a grid (alike at front and rear, and a coarse grid in which they differ) on the first seed; the best few are driven on
all seeds, and the best of them is polished by steps in each of the four duties, for every section by itself and for the whole
library. All of that is hindsight that no driver has: it knows the section, and the seeds, before it is driven.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.calibration.model import Calibration
from dualduty.discovery import PlugIns
from dualduty.errors import BadInput
from dualduty.scoring.measure import Measure
from dualduty.scoring.score import Scores, score
from dualduty.study.constant_runs import Setting, constant_scores, level_settings, split_settings
from dualduty.study.drives import part_of
from dualduty.study.kept import Kept
from dualduty.study.objectives import Objective, Objectives
from dualduty.trace import Case
from dualduty.trial.clock import DT, Progress
from plant.closed_loop import drive
from plant.course import Course
from plant.section import Section
from plant.sensor_offsets import with_offsets
from plant.sensors import Sensors
from plant.vehicle import Vehicle
from strategies.controller import Strategy

Array = NDArray[np.float64]

POLISH: Final = (0.08, 0.04)  # duty steps
ROUNDS: Final = 5  # of each
FINALISTS: Final = 6  # settings that are driven on all seeds
THREADS: Final = 3  # compiled runs side by side
BATCH: Final = 96  # cases of the closed loop at once
BASELINE_SHARE: Final = 0.25  # of the time, measured


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


@dataclass(eq=False)
class SectionFindings:
    """One section: objective of the calibration by valve lag and mode, and of the constant settings; less is better. [1]

    screened : (setting,) array
        Of every setting of the plan, on the first seed.
    """

    name: str
    objective: Objective
    screened: Array
    best: Setting
    best_value: float
    calibration: dict[tuple[str, str], float] = field(default_factory=dict)
    terms: dict[str, tuple[float, float]] = field(default_factory=dict)


@dataclass(eq=False)
class Findings:
    """All sections, and the best single setting of the library. [1]"""

    calibration: Calibration
    plan: Plan
    sections: list[SectionFindings]
    single: Setting
    single_values: Array

    def own(self, lag: str, mode: str = "") -> Array:
        """Objective of the calibration by section, in the mode that the objective names, or in one mode."""
        return np.array([one.calibration[lag, mode or one.objective.mode] for one in self.sections])

    @property
    def best(self) -> Array:
        """Objective of each section's own best setting."""
        return np.array([one.best_value for one in self.sections])


class _Bench:
    """One section's constant runs: courses by seed, and the reference that every measure is divided by."""

    def __init__(self, section: Section, plan: Plan, vehicle: Vehicle) -> None:
        self.plan, self.vehicle = plan, vehicle
        self.courses = [section.build(seed) for seed in plan.seeds]
        self.objective = plan.objectives.of(section.name)
        self.weights = np.array([self.objective.weights.get(measure.name, 0.0) for measure in plan.measures])
        reference: Setting = (*plan.objectives.reference, *plan.objectives.reference)
        floors = np.array([plan.objectives.floors.get(measure.name, 0.0) for measure in plan.measures])
        self.reference = [self.raw(course, [reference])[:, 0] for course in self.courses]
        self.scales = [np.maximum(values, floors) for values in self.reference]

    def raw(self, course: Course, settings: Sequence[Setting]) -> Array:
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
        weighted = [self.weights[:, None] * value / scale[:, None] for value, scale in zip(values, self.scales, strict=False)]
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


def constant_study(calibration: Calibration, plan: Plan, plug_ins: PlugIns, progress: Progress, kept: Kept | None = None) -> Findings:
    """Drive everything and find the best settings of hindsight, or take them from what was kept."""
    kept = kept or Kept()
    own = _driven(calibration, plan, plug_ins, lambda share: progress(BASELINE_SHARE * share))
    vehicle = next(iter(plan.vehicles.values()))
    rest = _rest(progress)
    benches: list[_Bench] = []
    found: list[SectionFindings] = []
    for number, section in enumerate(plan.sections):
        bench = _Bench(section, plan, vehicle)
        benches.append(bench)
        found.append(_of_section(section.name, bench, plan, own, kept))
        part_of(rest, (number, 1), len(plan.sections) + 1)(1.0)
    single = _single(plan, found, benches, kept)
    rest(1.0)
    return Findings(calibration, plan, found, single, np.array([bench.constants([single])[0] for bench in benches]))


def _rest(progress: Progress) -> Progress:
    return lambda share: progress(BASELINE_SHARE + (1.0 - BASELINE_SHARE) * share)


def _library(benches: Sequence[_Bench]) -> Callable[[Sequence[Setting]], Array]:
    return lambda settings: np.asarray(np.mean([bench.constants(settings) for bench in benches], axis=0))


def _single(plan: Plan, found: Sequence[SectionFindings], benches: Sequence[_Bench], kept: Kept) -> Setting:
    asked, driven = [bench.asked() for bench in benches], [bench.driven() for bench in benches]
    entry = kept.find("the whole library", asked, driven)
    if entry is None:
        best, value = _best(plan, np.mean([one.screened for one in found], axis=0), _library(benches))
        entry = kept.put("the whole library", asked, driven, {"best": best, "value": value})
    return _setting(entry["best"])


def _setting(duties: Sequence[float]) -> Setting:
    return (float(duties[0]), float(duties[1]), float(duties[2]), float(duties[3]))


def _best(plan: Plan, screened: Array, objective: Callable[[Sequence[Setting]], Array]) -> tuple[Setting, float]:
    """The best setting on all seeds: of the finalists of the screening, polished; with its objective."""
    finalists = [plan.settings[number] for number in np.argsort(screened)[:FINALISTS]]
    values = objective(finalists)
    return polished(finalists[int(np.argmin(values))], float(values.min()), objective)


def _of_section(name: str, bench: _Bench, plan: Plan, own: Mapping[tuple[str, str, int], Scores], kept: Kept) -> SectionFindings:
    entry = kept.find(name, bench.asked(), bench.driven())
    if entry is None:
        screened = bench.screened(plan.settings)
        best, value = _best(plan, screened, bench.constants)
        entry = kept.put(name, bench.asked(), bench.driven(), {"screened": screened.tolist(), "best": best, "value": value})
    best = _setting(entry["best"])
    found = SectionFindings(name, bench.objective, np.array(entry["screened"]), best, float(entry["value"]))
    at_best = bench.terms([bench.raw(course, [best]) for course in bench.courses])[:, 0]
    for lag in plan.vehicles:
        for mode in dict.fromkeys((*plan.modes, bench.objective.mode)):
            values = [_values(own[lag, mode, seed], name) for seed in plan.seeds]
            terms = bench.terms(values)[:, 0]
            found.calibration[lag, mode] = float(terms.sum())
            if mode == bench.objective.mode and lag == next(iter(plan.vehicles)):
                pairs = zip(plan.measures, terms, at_best, strict=True)
                found.terms = {measure.name: (float(mine), float(its)) for measure, mine, its in pairs if mine or its}
    return found


def _values(scores: Scores, section: str) -> Array:
    column = [case.section for case in scores.cases].index(section)
    return np.asarray(scores.values[:, column : column + 1])


def polished(start: Setting, value: float, objective: Callable[[Sequence[Setting]], Array]) -> tuple[Setting, float]:
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
    return _setting(moved)


def _driven(calibration: Calibration, plan: Plan, plug_ins: PlugIns, progress: Progress) -> dict[tuple[str, str, int], Scores]:
    """Scores of the calibration by valve lag, mode and seed, all sections in one batch each."""
    modes = tuple(dict.fromkeys((*plan.modes, *(plan.objectives.of(section.name).mode for section in plan.sections))))
    parts = [(lag, mode, seed) for lag in plan.vehicles for mode in modes for seed in plan.seeds]
    found = {}
    for number, part in enumerate(parts):
        found[part] = _batch(calibration, plan, part, plug_ins)
        part_of(progress, (number, 1), len(parts))(1.0)
    return found


def _batch(calibration: Calibration, plan: Plan, part: tuple[str, str, int], plug_ins: PlugIns) -> Scores:
    lag, mode, seed = part
    vehicle, count = plan.vehicles[lag], len(plan.sections)
    cases = tuple(Case(section.name, calibration.name, mode, seed, lag) for section in plan.sections)
    strategy = Strategy([calibration], [0] * count, plug_ins, DT)
    modes = np.full(count, strategy.modes.index(mode), np.int16)
    courses = [section.build(seed) for section in plan.sections]
    trace = drive(courses, [vehicle] * count, strategy, cases, modes, sensors=with_offsets(plan.sensors, vehicle))
    return score(trace, vehicle.car, plan.measures)
