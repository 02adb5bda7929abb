"""Electronics off: every pair of constant compression and rebound duties over a section, as maps of what the hardware can give.

What a calibration reaches between these maps' best points is what it is worth; where no point is good, the damper must change.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.scoring.measure import Measure
from dualduty.scoring.score import Scores, join_scores, score
from dualduty.trace import Case
from dualduty.trial.clock import DT, Progress
from plant.closed_loop import drive
from plant.constant_duty import ConstantDuty
from plant.course import Course
from plant.vehicle import Vehicle

Array = NDArray[np.float64]

BATCH: Final = 25  # cases at once: truth of a long section stays within a few hundred megabytes, and progress is seen
AXLES: Final = {"both": (0, 1, 2, 3), "front": (0, 1), "rear": (2, 3)}


@dataclass(frozen=True, eq=False)
class Plan:
    """Which duties are driven: `steps` from 0 to 1 on each side of an axle, the other axle held at `held`. [1]"""

    steps: int = 5
    axle: str = "both"
    held: float = 0.3

    @property
    def duties(self) -> Array:
        """Duties along either side of the map, (steps,)."""
        return np.linspace(0.0, 1.0, self.steps)

    def by_corner(self, duty: float) -> Array:
        """Duty of one side at each corner, (4,)."""
        found = np.full(4, self.held)
        found[list(AXLES[self.axle])] = duty
        return found


@dataclass(frozen=True, eq=False)
class DutyGrid:
    """Scores of one section over both duties.

    values : (measure, compression, rebound) array
        In the SI unit of each measure; NaN where there is none.
    """

    section: str
    vehicle: str
    stamp: str
    plan: Plan
    measures: tuple[Measure, ...]
    values: Array

    def value(self, name: str) -> Array:
        """One measure over (compression, rebound) duty. [SI of the measure]"""
        return np.asarray(self.values[[measure.name for measure in self.measures].index(name)])

    def best(self, name: str) -> tuple[int, int] | None:
        """Where a measure is best, (compression, rebound) step.

        None without a value or a good side, or where no pair differs by what matters.
        """
        measure = next(measure for measure in self.measures if measure.name == name)
        values = self.value(name) * {"lower": 1.0, "higher": -1.0, "none": np.nan}[measure.direction]
        if np.isnan(values).all() or np.nanmax(values) - np.nanmin(values) <= measure.matters.band(float(np.nanmin(np.abs(values)))):
            return None
        row, column = np.unravel_index(int(np.nanargmin(values)), values.shape)
        return int(row), int(column)

    def as_good(self, name: str) -> NDArray[np.bool_]:
        """Where a measure differs from its best by less than what matters, (compression, rebound)."""
        best = self.best(name)
        values = self.value(name)
        if best is None:
            return np.zeros(values.shape, bool)
        measure = next(measure for measure in self.measures if measure.name == name)
        return np.asarray(np.abs(values - values[best]) <= measure.matters.band(float(values[best])))


def duty_grid(
    vehicle: Vehicle, course: Course, label: str, plan: Plan, measures: Sequence[Measure] | None = None, progress: Progress | None = None
) -> DutyGrid:
    """Drive one section with every pair of duties and score it as a trial is scored; sensors don't matter to fixed duties."""
    pairs = [(compression, rebound) for compression in plan.duties for rebound in plan.duties]
    parts = []
    for start, batch in _batches(pairs):
        parts.append(_scored(vehicle, course, (label, plan), batch, measures))
        if progress is not None:
            progress(min(start + BATCH, len(pairs)) / len(pairs))
    scores = join_scores(parts)
    values = scores.values.reshape(len(scores.measures), plan.steps, plan.steps)
    return DutyGrid(course.name, label, scores.stamp, plan, scores.measures, values)


def _batches(pairs: list[tuple[float, float]]) -> Iterator[tuple[int, list[tuple[float, float]]]]:
    for start in range(0, len(pairs), BATCH):
        yield start, pairs[start : start + BATCH]


def _scored(
    vehicle: Vehicle, course: Course, told: tuple[str, Plan], pairs: list[tuple[float, float]], measures: Sequence[Measure] | None
) -> Scores:
    label, plan = told
    count = len(pairs)
    sides = [np.stack([plan.by_corner(pair[side]) for pair in pairs], axis=1)[:, None, :] for side in (0, 1)]
    cases = tuple(Case(course.name, f"{100 * c:.0f}/{100 * r:.0f} %", "fixed", 0, label) for c, r in pairs)
    controller = ConstantDuty(count, sides[0], sides[1], DT)
    trace = drive([course] * count, [vehicle] * count, controller, cases, np.zeros(count, np.int16))
    return score(trace, vehicle.car, measures)


def grid_rows(grid: DutyGrid) -> list[dict[str, object]]:
    """One row per pair of duties, a column per measure, in the units people say."""
    from dualduty.units import from_si, token_of

    rows: list[dict[str, object]] = []
    for place, compression in enumerate(grid.plan.duties):
        for column, rebound in enumerate(grid.plan.duties):
            row: dict[str, object] = {
                "section": grid.section, "vehicle": grid.vehicle, "stamp": grid.stamp, "axle": grid.plan.axle,
                "held_duty_pct": "" if grid.plan.axle == "both" else 100.0 * grid.plan.held,
                "compression_duty_pct": 100.0 * compression, "rebound_duty_pct": 100.0 * rebound,
            }  # fmt: skip
            for number, measure in enumerate(grid.measures):
                token = token_of(measure.said)
                value = from_si(float(grid.values[number, place, column]), measure.said)
                row[measure.name if token == "1" else f"{measure.name}_{token}"] = "" if np.isnan(value) else f"{value:.6g}"
            rows.append(row)
    return rows
