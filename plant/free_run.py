"""A vehicle released from any state, without a controller: for checks of the physics and for fitting."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dualduty.signals import CONTROLLER_LAYOUT, TRUTH_LAYOUT
from plant.course import Course
from plant.equilibrium import evaluate, starting_states
from plant.packed import pack, starting_rows
from plant.rows import REPORT_AT, ROWS, STATE_SIZE
from plant.tick import advance
from plant.vehicle import Vehicle

Array = NDArray[np.float64]


def release(vehicle: Vehicle, state: Array, course: Course, *, step: float = 1e-3, duty: Any = 0.0) -> tuple[Array, Array]:
    """Let a vehicle go on a course, its valves at rest at `duty`.

    Parameters
    ----------
    state : (STATE_SIZE,) array
        Start, rows of `plant.rows`.
    step : float
        Plant step. [s]
    duty : float or (8,) array
        Duties of the four compression and the four rebound valves. [1]

    Returns
    -------
    states, reports : (time, STATE_SIZE), (time, report) arrays
        From the start on, one step apart. [SI]
    """
    packed = pack([vehicle], [course], step, step)
    steps = round(course.duration / step)
    rows = starting_rows(packed, state[None], duty)
    evaluate(packed, rows)
    latched = np.broadcast_to(np.asarray(duty, float).reshape(-1, 1, 1), (8, 1, 1)).copy()
    none, failed = np.zeros((0, 1, 1)), np.full(1, -1.0)
    kept = np.empty((steps + 1, ROWS))
    kept[0] = rows[0, :ROWS]
    for tick in range(steps):
        advance(packed.cases, packed.tables, packed.tracks, latched, tick, 0, 1, rows, none, none, failed)
        kept[tick + 1] = rows[0, :ROWS]
    return kept[:, :STATE_SIZE], kept[:, REPORT_AT:]


@dataclass(frozen=True)
class Seen:
    """What compiled runs leave.

    felt : dict of (corner, tick, case) arrays
        Signals of the controller without sensor error, at the end of each tick. [SI]
    truth : dict of (corner, fine time, case) arrays
        Truth at the start of each plant step. [SI]
    failed : (case,) array
        Time at which the numbers ran away, below 0 where they have not. [s]
    """

    felt: dict[str, Array]
    truth: dict[str, Array]
    failed: Array


def run_through(vehicles: Sequence[Vehicle], courses: Sequence[Course], duty: Any, *, tick: float = 2e-3, step: float = 1e-3) -> Seen:
    """Drive cases with given duties from rest on their springs, all in compiled code: for fits, maps of constant duty, benchmarks.

    Parameters
    ----------
    vehicles, courses
        One per case.
    duty : float, (8, case) or (8, tick, case) array
        Four compression, four rebound duties. [1]
    tick, step : float
        How often duties change and sensors are read; plant step, of which a tick is a multiple. [s]
    """
    packed = pack(vehicles, courses, step, tick)
    ticks = int(packed.cases["ticks"].max())
    duty = np.asarray(duty, float)
    duty = duty[:, None, :] if duty.ndim == 2 else duty  # noqa: PLR2004 - without time
    latched = np.ascontiguousarray(np.broadcast_to(duty, (8, ticks, len(vehicles))))
    rows = starting_rows(packed, starting_states(courses, vehicles), latched[:, 0].T)
    evaluate(packed, rows)
    steps = round(tick / step)
    felt = np.zeros((CONTROLLER_LAYOUT.size, ticks, len(vehicles)))
    truth = np.empty((TRUTH_LAYOUT.size, ticks * steps, len(vehicles)))
    failed = np.full(len(vehicles), -1.0)
    advance(packed.cases, packed.tables, packed.tracks, latched, 0, 0, steps, rows, felt, truth, failed)
    return Seen(CONTROLLER_LAYOUT.split(felt), TRUTH_LAYOUT.split(truth), failed)
