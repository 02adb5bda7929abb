"""One controller tick of all cases, compiled: plant steps, truth at each, and the sensors at its end."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from dualduty.kernels import I8, IN1, IN2, IN3, OUT1, OUT2, OUT3, kernel
from plant.motion import motion
from plant.packed import CASES
from plant.record import feel, note_truth, sense
from plant.rows import HELD_AT, RATE_AT, REPORT_AT, STATE_SIZE
from plant.step import act_as_driver, has_run_away, keep_duties, next_stage, reach_duties
from plant.wheel_spin import spin_wheels

Array = NDArray[np.float64]


@kernel(CASES, IN1, IN2, IN3, IN3, IN1, I8, I8, I8, OUT2, OUT3, OUT3, OUT1)
def advance(  # noqa: PLR0913, PLR0917 - the one seam between Python and the plant: each array is a different thing
    cases: Any, tables: Array, tracks: Array, duty: Array, disturbance: Array, grid: Array, tick: int, place_in_chunk: int, steps: int,
    rows: Array, sensed: Array, truth: Array, failed: Array,
) -> None:  # fmt: skip
    """Advance all cases by one controller tick of `steps` plant steps; 0 steps only evaluate the present state.

    cases, tables, tracks
        As in `plant.packed.Packed`.
    duty : (8, 1, case) array
        Latched duties of this tick: four compression, four rebound. [1]
    disturbance : (row, time, case) array
        Added to what the sensors feel, at `place_in_chunk`. [SI]
    grid : (row,) array
        Resolution of each sensor, 0 for none. [SI]
    rows : (case, row) array
        State, rate, held inputs and report of each case; advanced.
    sensed : (row, 1, case) array
        Sensors at the end of the tick. [SI]
    truth : (row, fine time, case) array
        Truth at the start of each plant step. [SI]
    failed : (case,) array
        Time at which the numbers ran away, below 0 where they have not; such a case stands still. [s]
    """
    total, trial, felt = np.zeros(STATE_SIZE), np.empty(STATE_SIZE), np.empty(sensed.shape[0])
    middle, end = np.empty(8), np.empty(8)
    for index in range(cases.shape[0]):
        case = cases[index]
        state, rate = rows[index, :RATE_AT], rows[index, RATE_AT:HELD_AT]
        held, report = rows[index, HELD_AT:REPORT_AT], rows[index, REPORT_AT:]
        moving = steps > 0 and tick < case.ticks and failed[index] < 0.0
        for step in range(max(steps, 1)):
            if steps > 0:
                note_truth(case, state, rate, held, report, truth[:, place_in_chunk * steps + step, index])
            reach_duties(case, held, duty[:, 0, index], middle, end, moving)
            for stage in range(0 if moving else 3, 4 if moving or steps == 0 else 3):
                next_stage(stage, case.step if moving else 0.0, state, rate, total, trial)
                if stage == 3 and moving:  # noqa: PLR2004 - the last of four stages
                    act_as_driver(case, tracks, state, held)
                motion(case, tables, tracks, trial, held, middle if stage < 2 else end, rate, report)  # noqa: PLR2004 - as above
            if moving:
                keep_duties(end, held)
                spin_wheels(case, state, report, held)
                if has_run_away(state):
                    failed[index] = (tick * steps + step + 1) * case.step
                    moving = False
        feel(case, state, rate, held, report, felt)
        sense(felt, duty[:, 0, index], disturbance[:, place_in_chunk, index], grid, sensed[:, 0, index])
