"""The calibration's own drives for the study of constant duties, scored."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from dualduty.calibration.model import Calibration
from dualduty.discovery import PlugIns
from dualduty.scoring.score import score
from dualduty.study.constant_bench import Plan
from dualduty.trace import Case
from dualduty.trial.clock import Progress, part_of
from dualduty.trial.simulate import drive_cases

Array = NDArray[np.float64]

BATCH: Final = 96  # cases at once


class Drive(NamedTuple):
    """One drive of the calibration: valves, section, mode, seed."""

    lag: str
    section: str
    mode: str
    seed: int


def driven(calibration: Calibration, plan: Plan, plug_ins: PlugIns, progress: Progress) -> dict[Drive, Array]:
    """Measures of every drive of the calibration, (measure,): in all modes with the first valves, in the objective's with the others."""
    first, found = next(iter(plan.vehicles)), {}
    drives = [
        Drive(lag, section.name, mode, seed)
        for lag in plan.vehicles
        for section in sorted(plan.sections, key=lambda one: one.duration)
        for mode in dict.fromkeys((plan.objectives.of(section.name).mode, *(plan.modes if lag == first else ())))
        for seed in plan.seeds
    ]
    batches = [batch for lag in plan.vehicles for batch in _batches([one for one in drives if one.lag == lag])]
    for number, batch in enumerate(batches):
        found.update(_batch(calibration, plan, batch, plug_ins))
        part_of(progress, (number, 1), len(batches))(1.0)
    return found


def _batches(drives: Sequence[Drive]) -> list[Sequence[Drive]]:
    return [drives[start : start + BATCH] for start in range(0, len(drives), BATCH)]


def _batch(calibration: Calibration, plan: Plan, drives: Sequence[Drive], plug_ins: PlugIns) -> dict[Drive, Array]:
    vehicle = plan.vehicles[drives[0].lag]
    cases = tuple(Case(one.section, calibration.name, one.mode, one.seed, one.lag) for one in drives)
    sections = {section.name: section for section in plan.sections}
    built = {key: sections[key[0]].build(key[1]) for key in dict.fromkeys((one.section, one.seed) for one in drives)}
    courses = [built[one.section, one.seed] for one in drives]
    trace = drive_cases([calibration], [0] * len(drives), cases, courses, vehicle, plan.sensors, plug_ins)
    values = np.asarray(score(trace, vehicle.car, plan.measures).values)
    return {one: values[:, number] for number, one in enumerate(drives)}
