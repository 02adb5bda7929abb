"""A vehicle released from any state, without a controller: for checks of the physics and for fitting."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from dualduty.signals import CONTROLLER_LAYOUT, TRUTH_LAYOUT
from plant.course import Course
from plant.equilibrium import evaluate
from plant.packed import pack
from plant.rows import HELD_AT, REACHED, REPORT_AT, ROWS, STATE_SIZE
from plant.tick import advance
from plant.vehicle import Vehicle

Array = NDArray[np.float64]


def release(vehicle: Vehicle, state: Array, course: Course, *, step: float = 1e-3, duty: Any = 0.0) -> tuple[Array, Array]:
    """Let a vehicle go on a course, its valves at rest at `duty`.

    Parameters
    ----------
    state : (20,) array
        Start, rows of `plant.rows`.
    step : float
        Plant step. [s]
    duty : float or (8,) array
        Duties of the four compression and the four rebound valves. [1]

    Returns
    -------
    states, reports : (time, 20), (time, report) arrays
        From the start on, one step apart. [SI]
    """
    packed = pack([vehicle], [course], step, step)
    steps = round(course.duration / step)
    rows = np.zeros((1, ROWS))
    rows[0, :STATE_SIZE] = state
    rows[0, HELD_AT + REACHED : HELD_AT + REACHED + 8] = duty
    evaluate(packed, rows)
    size = CONTROLLER_LAYOUT.size
    latched = np.broadcast_to(np.asarray(duty, float).reshape(-1, 1, 1), (8, 1, 1)).copy()
    quiet, grid = np.zeros((size, 1, 1)), np.zeros(size)
    sensed, truth, failed = np.empty((size, 1, 1)), np.empty((TRUTH_LAYOUT.size, 1, 1)), np.full(1, -1.0)
    kept = np.empty((steps + 1, ROWS))
    kept[0] = rows[0]
    for tick in range(steps):
        advance(packed.cases, packed.tables, packed.tracks, latched, quiet, grid, tick, 0, 1, rows, sensed, truth, failed)
        kept[tick + 1] = rows[0]
    return kept[:, :STATE_SIZE], kept[:, REPORT_AT:]
