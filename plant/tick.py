"""Controller ticks of all cases, compiled: plant steps, truth at each, and what sensors without error feel at the end of each tick."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from dualduty.kernels import I8, IN1, IN2, IN3, OUT1, OUT2, OUT3, kernel
from plant.motion import motion
from plant.packed import CASES
from plant.record import feel, note_truth
from plant.rows import HELD_AT, RATE_AT, REPORT_AT, ROWS, STATE_SIZE
from plant.step import act_as_driver, has_run_away, next_stage, warm_dampers
from plant.valve import give_duties, heat_coils, latch, reach_duties, take_commands

Array = NDArray[np.float64]


@kernel(CASES, IN1, IN2, IN3, I8, I8, I8, OUT2, OUT3, OUT3, OUT1)
def advance(  # noqa: PLR0913, PLR0917 - the one seam between Python and the plant: each array is a different thing
    cases: Any, tables: Array, tracks: Array, duty: Array, tick: int, begin: int, steps: int,
    rows: Array, felt: Array, truth: Array, failed: Array,
) -> None:  # fmt: skip
    """Advance all cases by some controller ticks of `steps` plant steps each; 0 steps only evaluate the present state.

    cases, tables, tracks
        As in `plant.packed.Packed`.
    duty : (8, tick, case) array
        Latched duties of each tick: four compression, four rebound; NaN is a valve without power. [1]
    tick : int
        Number of the first of these ticks, counted from the start of the run.
    begin : int
        Where in `truth` the first of their plant steps goes.
    rows : (case, row) array
        State, rate, held inputs and report of each case, and the commands on their way to the valves; advanced.
    felt : (row, tick, case) array
        Rows of CONTROLLER_LAYOUT at the end of each tick, as sensors without error would give them; no rows: not wanted. [SI]
    truth : (row, fine time, case) array
        Rows of TRUTH_LAYOUT at the start of each plant step; no rows: not wanted. [SI]
    failed : (case,) array
        Time at which the numbers ran away, below 0 where they have not; such a case stands still. [s]
    """
    total, trial = np.zeros(STATE_SIZE), np.empty(STATE_SIZE)
    wanted, command, reached = np.empty(8), np.empty(8), np.empty(16)
    for index in range(cases.shape[0]):
        case = cases[index]
        state, rate = rows[index, :RATE_AT], rows[index, RATE_AT:HELD_AT]
        held, report, pending = rows[index, HELD_AT:REPORT_AT], rows[index, REPORT_AT:ROWS], rows[index, ROWS:]
        for place in range(duty.shape[1]):
            latch(duty, place, index, command)
            moving = steps > 0 and tick + place < case.ticks and failed[index] < 0.0
            if moving:
                take_commands(case, held, command, wanted)
            for step in range(max(steps, 1)):
                number = (tick + place) * steps + step
                if steps > 0 and truth.shape[0] > 0:
                    note_truth(case, state, rate, held, report, command, truth, (begin + place * steps + step, index))
                if moving:
                    reach_duties(case, held, wanted, pending, number, reached)
                for stage in range(0 if moving else 3, 4 if moving or steps == 0 else 3):
                    next_stage(stage, case.step if moving else 0.0, state, rate, total, trial)
                    if moving and stage != 1:
                        give_duties(reached, 0 if stage == 0 else 8, held)
                    if moving and stage == 3:  # noqa: PLR2004 - the last of four stages
                        act_as_driver(case, tracks, state, held)
                    motion(case, tables, tracks, trial, held, rate, report)
                if moving:
                    warm_dampers(case, state, report, held)
                    if has_run_away(state):
                        failed[index] = (number + 1) * case.step
                        moving = False
            if moving:
                heat_coils(case, held, command, steps * case.step)
            if felt.shape[0] > 0:
                feel(case, state, rate, held, report, command, felt, (place, index))
