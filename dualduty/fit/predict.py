"""Predicting runs the fit has not seen: change of what was measured from one setting of duties to another, against simulation.

Both sides are made of logged channels only; the simulated ones go through the same sensors. The ground is that of the
section's file; where it is random, the run's own ground is another draw, so that several seeds are driven and their scatter
stands beside the prediction.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.fit.runs import RATE, Run
from dualduty.signals import CONTROLLER_LAYOUT
from dualduty.trace import Case
from plant.course import Course
from plant.free_run import run_through
from plant.section import read_section
from plant.sensor_chain import SensorChain
from plant.sensor_offsets import with_offsets
from plant.sensors import Sensors
from plant.vehicle import Vehicle

Array = NDArray[np.float64]
Signals = Mapping[str, Array]

SEEDS: Final = (1, 2, 3, 4)
LEAD: Final = 1.0  # s until the level start of a section lies behind
LEAST: Final = 2.0  # points: a measured change smaller than that has no sign to speak of


def _spread(name: str) -> Callable[[Signals], float]:
    return lambda signals: float(np.nanstd(signals[name][:, round(LEAD * RATE) :], axis=1).mean())


MEASURES: Final[dict[str, Callable[[Signals], float]]] = {
    "body acceleration r.m.s.": _spread("specific_force_z"),
    "travel r.m.s.": _spread("shaft_travel"),
    "roll rate r.m.s.": _spread("roll_rate"),
    "pitch rate r.m.s.": _spread("pitch_rate"),
}


@dataclass(frozen=True)
class Change:
    """One measure from one setting to another, where at least one run was not seen; changes in % of the first."""

    section: str
    measure: str
    before: str
    after: str
    measured: float
    predicted: float
    scatter: float

    @property
    def error(self) -> float:
        """Predicted less measured. [points]"""
        return self.predicted - self.measured

    @property
    def sign_right(self) -> bool | None:
        """None where the measured change is too small to have one."""
        return None if abs(self.measured) < LEAST else self.measured * self.predicted > 0.0


def predict(vehicle: Vehicle, runs: Sequence[Run], sections: Path) -> list[Change]:
    """Changes to every unseen run from every seen one over the same section; `sections` is the folder of section files."""
    found = []
    for section in dict.fromkeys(run.section for run in runs if run.unseen and not run.stepped):
        here = [run for run in runs if run.section == section and not run.stepped]
        values = _simulated(vehicle, here, sections / f"{section}.toml")
        for before, after in itertools.permutations(range(len(here)), 2):
            if here[after].unseen and not here[before].unseen:
                found += _changes(here[before], here[after], values[:, :, before], values[:, :, after])
    return found


def _changes(before: Run, after: Run, first: Array, second: Array) -> list[Change]:
    found = []
    for row, (name, measure) in enumerate(MEASURES.items()):
        measured = 100.0 * (measure(after.signals) / measure(before.signals) - 1.0)
        drawn = 100.0 * (second[row] / first[row] - 1.0)
        found.append(Change(before.section, name, before.label, after.label, measured, float(drawn.mean()), float(drawn.std(ddof=1))))
    return found


def _simulated(vehicle: Vehicle, runs: Sequence[Run], section: Path) -> Array:
    """Measures of the simulated runs, (measure, seed, run)."""
    duration = max(run.signals["shaft_travel"].shape[1] for run in runs) / RATE
    made = read_section(section)
    courses: list[Course] = [replace(replace(made, duration=duration).build(seed), duration=duration) for seed in SEEDS]
    duty = np.array([np.repeat(run.duty, 4) for _ in SEEDS for run in runs]).T
    cases = tuple(Case(made.name, str(index), "fixed", seed, vehicle.car.name) for seed in SEEDS for index in range(len(runs)))
    seen = run_through([vehicle] * len(cases), [course for course in courses for _ in runs], duty, tick=1.0 / RATE)
    felt = np.concatenate([seen.felt[name] for name in CONTROLLER_LAYOUT.names])
    sensed = CONTROLLER_LAYOUT.split(SensorChain(with_offsets(Sensors.typical(), vehicle), cases, 1.0 / RATE).read(felt))
    out = np.empty((len(MEASURES), len(SEEDS), len(runs)))
    for place, (seed, run) in enumerate(itertools.product(range(len(SEEDS)), range(len(runs)))):
        ticks = runs[run].signals["shaft_travel"].shape[1]
        signals = {name: rows[:, :ticks, place] for name, rows in sensed.items()}
        out[:, seed, run] = [measure(signals) for measure in MEASURES.values()]
    return out


def stamp_of(vehicle: str, runs: int, changes: Sequence[Change]) -> str:
    """How far the plant has been compared with the vehicle, in one line: travels with every simulated score."""
    fitted = f"fitted to {runs} runs of {vehicle}"
    if not changes:
        return fitted
    signs = [change.sign_right for change in changes if change.sign_right is not None]
    errors = np.abs([change.error for change in changes])
    reach = f"half within {np.ceil(np.median(errors)):.0f} points, all within {np.ceil(errors.max()):.0f}"
    return f"{fitted}; predicted {len(changes)} changes of unseen runs, {reach}, sign right {sum(signs)} of {len(signs)}"
