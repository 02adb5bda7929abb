"""Sections driven with constant duties, all compiled, and scored by the measures that an objective weighs.

A setting is four duties: compression front, rebound front, compression rear, rebound rear. A constant duty knows no valve lag and
no sensor, so these runs serve whatever the valves are like.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.errors import BadInput
from dualduty.scoring.measure import Measure
from dualduty.scoring.score import score
from dualduty.trace import Case, Header, Trace, TraceChunk
from dualduty.trial.clock import DT
from plant.course import Course
from plant.free_run import Seen, run_through
from plant.vehicle import Vehicle

Array = NDArray[np.float64]
Setting = tuple[float, float, float, float]

BATCH: Final = 48  # cases at once: the truth of a long section stays within a few hundred megabytes
STEP: Final = 1e-3  # s, that of the closed loop
GRID: Final = (0.0, 0.1, 0.2, 0.35, 0.5, 0.7, 0.85, 1.0)  # closer together where the soft half of a map still changes fast
SPLIT: Final = (0.15, 0.6)  # the coarse grid on which front and rear differ


def level_settings() -> list[Setting]:
    """Every pair of compression and rebound duty of the grid, alike at front and rear."""
    return [(compression, rebound, compression, rebound) for compression, rebound in product(GRID, GRID)]


def split_settings() -> list[Setting]:
    """Every setting of the coarse grid in which front and rear differ."""
    every = product(SPLIT, SPLIT, SPLIT, SPLIT)
    return [(a, b, c, d) for a, b, c, d in every if (a, b) != (c, d)]


def said(setting: Setting) -> str:
    """A setting in words: compression/rebound duty in per cent, front and rear where they differ."""
    front, rear = (f"{100 * compression:.0f}/{100 * rebound:.0f}" for compression, rebound in (setting[:2], setting[2:]))
    return f"{front} %" if front == rear else f"{front} front, {rear} rear %"


def constant_scores(vehicle: Vehicle, course: Course, settings: Sequence[Setting], measures: Sequence[Measure]) -> Array:
    """Measures of one course at constant duties, (measure, setting). [SI]"""
    parts = [_scored(vehicle, course, settings[start : start + BATCH], measures) for start in range(0, len(settings), BATCH)]
    return np.concatenate(parts, axis=1)


def _scored(vehicle: Vehicle, course: Course, settings: Sequence[Setting], measures: Sequence[Measure]) -> Array:
    count = len(settings)
    duty = np.array([_by_valve(setting) for setting in settings]).T
    seen = run_through([vehicle] * count, [course] * count, duty, tick=DT, step=STEP)
    cases = tuple(Case(course.name, said(setting), "fixed", 0, vehicle.car.name) for setting in settings)
    if (seen.failed >= 0.0).any():
        raise BadInput(cases[int(np.argmax(seen.failed >= 0.0))].label, "the motion ran away at a constant duty")
    return np.asarray(score(_as_trace(seen, cases, vehicle.stamp), vehicle.car, measures).values)


def _by_valve(setting: Setting) -> list[float]:
    front, rear = setting[:2], setting[2:]
    return [axle[side] for side in (0, 1) for axle in (front, front, rear, rear)]


def _as_trace(seen: Seen, cases: tuple[Case, ...], stamp: str) -> Trace:
    """What a run with constant duties leaves, as scoring takes it: truth only."""
    header = Header("simulated", DT, cases, ("fixed",), ("fixed",), (), truth_dt=STEP, stamp=stamp)
    ticks, count = seen.truth["wheel_load"].shape[1] // round(DT / STEP), len(cases)
    ones = np.ones((1, ticks, count))
    nothing: dict[str, Array] = {}
    chunk = TraceChunk(
        start=0, signals=nothing, valid=nothing, quantities=nothing, states=nothing, strengths=nothing, asked=nothing, duty=nothing,
        layer={}, flags={}, mode=np.zeros((1, ticks, count), np.int16), running=ones, truth=seen.truth,
    )  # fmt: skip
    return Trace.held(header, [chunk])
