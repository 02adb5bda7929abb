"""Controller ticks of all cases, compiled: plant steps, truth at each, and what sensors without error feel at the end of each tick."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.kernels import I8, IN1, IN2, IN3, OUT1, OUT2, OUT3, inline, kernel
from plant.motion import motion
from plant.packed import CASES
from plant.record import feel, note_truth
from plant.rows import HELD_AT, RATE_AT, REPORT_AT, ROWS, STATE_SIZE
from plant.step import act_as_driver, has_run_away, next_stage, warm_dampers
from plant.valve import give_duties, heat_coils, latch, reach_duties, take_commands

Array = NDArray[np.float64]


# What a case needs within a tick only, one after the other.
TOTAL: Final = 0
TRIAL: Final = TOTAL + STATE_SIZE
WANTED: Final = TRIAL + STATE_SIZE
COMMAND: Final = WANTED + 8
REACHES: Final = COMMAND + 8
SCRATCH: Final = REACHES + 16

BLOCK: Final = 8  # ticks a case goes on before the next one: what all cases write meanwhile stays in the processor's cache


@inline
def run_step(case: Any, tables: Array, tracks: Array, row: Array, scratch: Array, moving: bool) -> None:
    """Advance one case by a plant step; one that isn't moving only has its present state evaluated.

    The motion stands here once: each place it is called from would be a copy of thousands of instructions.
    """
    state, rate, held, report = row[:RATE_AT], row[RATE_AT:HELD_AT], row[HELD_AT:REPORT_AT], row[REPORT_AT:ROWS]
    total, trial, reached = scratch[TOTAL:TRIAL], scratch[TRIAL:WANTED], scratch[REACHES:]
    for stage in range(0 if moving else 3, 4):
        next_stage(stage, case.step if moving else 0.0, state, rate, total, trial)
        if moving and stage != 1:
            give_duties(reached, 0 if stage == 0 else 8, held)
        if moving and stage == 3:  # noqa: PLR2004 - the last of four stages
            act_as_driver(case, tracks, state, held)
        motion(case, tables, tracks, trial, held, rate, report)
    if moving:
        warm_dampers(case, state, report, held)


@inline
def run_tick(  # noqa: PLR0913, PLR0917 - as advance
    case: Any, tables: Array, tracks: Array, row: Array, scratch: Array, truth: Array, failed: Array, at: tuple[int, int, int, int],
) -> None:  # fmt: skip
    """Advance one case by a tick; `at` is the tick's number, where its truth begins, its plant steps, and the case's index."""
    tick, begin, steps, index = at
    state, rate, held, report = row[:RATE_AT], row[RATE_AT:HELD_AT], row[HELD_AT:REPORT_AT], row[REPORT_AT:ROWS]
    wanted, command = scratch[WANTED:COMMAND], scratch[COMMAND:REACHES]
    moving = steps > 0 and tick < case.ticks and failed[index] < 0.0
    if moving:
        take_commands(case, held, command, wanted)
    for step in range(max(steps, 1)):
        if steps > 0 and truth.shape[0] > 0:
            note_truth(case, state, rate, held, report, command, truth, (begin + step, index))
        if moving:
            reach_duties(case, held, wanted, row[ROWS:], tick * steps + step, scratch[REACHES:])
        if moving or steps == 0:
            run_step(case, tables, tracks, row, scratch, moving)
        if moving and has_run_away(state):
            failed[index] = (tick * steps + step + 1) * case.step
            moving = False
    if moving:
        heat_coils(case, held, command, steps * case.step)


@inline
def note_felt(row: Array, scratch: Array, felt: Array, at: tuple[int, int]) -> None:
    """Fill `felt` at time and case `at` with what sensors without error give at the end of a tick."""
    state, rate, held, report = row[:RATE_AT], row[RATE_AT:HELD_AT], row[HELD_AT:REPORT_AT], row[REPORT_AT:ROWS]
    feel(state, rate, held, report, scratch[COMMAND:REACHES], felt, at)


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
    scratch = np.zeros(SCRATCH)
    for first in range(0, duty.shape[1], BLOCK):
        for index in range(cases.shape[0]):
            for place in range(first, min(first + BLOCK, duty.shape[1])):
                latch(duty, place, index, scratch[COMMAND:REACHES])
                at = tick + place, begin + place * steps, steps, index
                run_tick(cases[index], tables, tracks, rows[index], scratch, truth, failed, at)
                if felt.shape[0] > 0:
                    note_felt(rows[index], scratch, felt, (place, index))
