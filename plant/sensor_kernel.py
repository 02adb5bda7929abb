"""The sensor chain of some ticks, compiled: each element works on one row of cases at a time."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.kernels import I8, IN2, IN3, OUT3, inline, kernel

Array = NDArray[np.float64]

# columns of the plan, a row of which belongs to a row of the layout
ADJUSTED, LOW, HIGH, FILTERED, DELAYED, SAMPLES, GRID, FAULTY, ADDED = range(9)
TAPS: Final = 9  # b0, b1, b2, a1, a2 of the filter
WHOLE: Final = 14  # whole ticks of the delay, and the fraction of a tick beyond
FRACTION: Final = 15
PLAN: Final = 16
GAIN, OFFSET, DRIFT = range(3)  # of what differs by case
FIRST_SUM, SECOND_SUM, SAMPLE, LAST = range(4)  # of the state
ROW, OTHER, START, END, GROWTH = range(1, 6)  # of a fault, after its kind
DROPOUT, STUCK, SPIKE, DRIFTING, SWAPPED, INVERTED = range(6)  # as plant.faults.KINDS


@inline
def _take(felt: Array, tick: int, given: Array) -> None:
    """The rows of one tick."""
    for row in range(given.shape[0]):
        for case in range(given.shape[1]):
            given[row, case] = felt[row, tick, case]


@inline
def _wire(faults: Array, chosen: Array, turned: Array, turn: Array, now: int, given: Array) -> None:
    """Which sensor looks at what: swapped plugs, sensors the wrong way round, a box that sits askew."""
    for entry in range(faults.shape[0]):
        kind, row, other = int(faults[entry, 0]), int(faults[entry, ROW]), int(faults[entry, OTHER])
        if kind < SWAPPED or not faults[entry, START] <= now < faults[entry, END]:
            continue
        for case in range(given.shape[1]):
            if chosen[entry, case] > 0.0 and kind == SWAPPED:
                given[row, case], given[other, case] = given[other, case], given[row, case]
            elif chosen[entry, case] > 0.0:
                given[row, case] = -given[row, case]
    for group in range(turned.shape[0]):
        ahead, left, up = int(turned[group, 0]), int(turned[group, 1]), int(turned[group, 2])
        for case in range(given.shape[1]):
            x, y, z = given[ahead, case], given[left, case], given[up, case]
            given[ahead, case] = turn[0, 0] * x + turn[0, 1] * y + turn[0, 2] * z
            given[left, case] = turn[1, 0] * x + turn[1, 1] * y + turn[1, 2] * z
            given[up, case] = turn[2, 0] * x + turn[2, 1] * y + turn[2, 2] * z


@inline
def _drift_by_fault(faults: Array, chosen: Array, row: int, now: int, given: Array) -> None:
    """Ramps put in on purpose; `given` is one row of cases."""
    for entry in range(faults.shape[0]):
        if int(faults[entry, 0]) == DRIFTING and int(faults[entry, ROW]) == row and faults[entry, START] <= now < faults[entry, END]:
            for case in range(given.size):
                given[case] += chosen[entry, case] * faults[entry, GROWTH] * (now - faults[entry, START])


@inline
def _adjust(by_case: Array, row: int, now: int, given: Array) -> None:
    """Gain, offset and drift of the sensing element."""
    for case in range(given.size):
        given[case] = given[case] * by_case[GAIN, row, case] + (by_case[OFFSET, row, case] + by_case[DRIFT, row, case] * now)


@inline
def _saturate(low: float, high: float, given: Array) -> None:
    for case in range(given.size):
        if given[case] < low:
            given[case] = low
        elif given[case] > high:
            given[case] = high


@inline
def _filter(taps: Array, first: Array, second: Array, now: int, given: Array) -> None:
    """Transposed direct form II; starts settled on the first sample."""
    for case in range(given.size):
        came = given[case]
        if now == 0:
            second[case] = (taps[2] - taps[4]) * came
            first[case] = (taps[1] - taps[3]) * came + second[case]
        out = taps[0] * came + first[case]
        first[case] = taps[1] * came - taps[3] * out + second[case]
        second[case] = taps[2] * came - taps[4] * out
        given[case] = out


@inline
def _delay(whole: int, fraction: float, ring: Array, now: int, given: Array) -> None:
    """What came `whole + fraction` ticks ago, straight between two ticks; before the start, the first sample."""
    slots = ring.shape[0]
    write = now % slots
    later, earlier = (now - whole) % slots, (now - whole - 1) % slots
    for case in range(given.size):
        if now == 0:
            for slot in range(slots):
                ring[slot, case] = given[case]
        ring[write, case] = given[case]
        given[case] = ring[later, case] + fraction * (ring[earlier, case] - ring[later, case])


@inline
def _sample(samples: float, held: Array, now: int, given: Array) -> None:
    """The sensor's own clock, which starts with the run: between two samples the last one stands."""
    # 1e-9: a sample that falls on a tick must not slip to the next by rounding
    due = now == 0 or np.floor(now * samples + 1e-9) > np.floor((now - 1) * samples + 1e-9)
    for case in range(given.size):
        if due:
            held[case] = given[case]
        else:
            given[case] = held[case]


@inline
def _quantise(grid: float, given: Array) -> None:
    for case in range(given.size):
        given[case] = np.floor(0.5 + given[case] / grid) * grid


@inline
def _lose(faults: Array, chosen: Array, row: int, now: int, last: Array, given: Array) -> None:
    """Values that stand still, and then gaps; keeps the last value that moved."""
    for kind in (STUCK, DROPOUT):
        for entry in range(faults.shape[0]):
            if int(faults[entry, 0]) != kind or int(faults[entry, ROW]) != row or not faults[entry, START] <= now < faults[entry, END]:
                continue
            for case in range(given.size):
                if chosen[entry, case] > 0.0:
                    given[case] = np.nan if kind == DROPOUT else (last[case] if now > 0 else given[case])
    for case in range(given.size):
        if not np.isnan(given[case]):
            last[case] = given[case]


@inline
def _convert(plan: Array, row: int, added: Array, held: Array, now: int, given: Array) -> None:
    """From the line to a number: noise and spikes at the moment of sampling, the range of the converter, its grid."""
    if plan[row, ADDED] >= 0.0:
        place = int(plan[row, ADDED])
        for case in range(given.size):
            given[case] += added[place, case]
    if plan[row, SAMPLES] > 0.0:
        _sample(plan[row, SAMPLES], held, now, given)
    if plan[row, ADDED] >= 0.0 or plan[row, FILTERED] > 0.0:  # a second-order filter overshoots
        _saturate(plan[row, LOW], plan[row, HIGH], given)
    if plan[row, GRID] > 0.0:
        _quantise(plan[row, GRID], given)


@inline
def _pass_on(plan: Array, row: int, state: Array, ring: Array, now: int, given: Array) -> None:
    """The way of the signal through filter and line."""
    if plan[row, FILTERED] > 0.0:
        _filter(plan[row, TAPS:WHOLE], state[FIRST_SUM, row], state[SECOND_SUM, row], now, given)
    if plan[row, DELAYED] >= 0.0:
        _delay(int(plan[row, WHOLE]), plan[row, FRACTION], ring[int(plan[row, DELAYED])], now, given)


@kernel(IN3, IN2, IN3, IN3, IN2, IN2, IN2, IN2, OUT3, OUT3, I8, I8, I8, I8, OUT3)
def sense(  # noqa: PLR0913, PLR0917 - the one seam between Python and the chain: each array is a different thing
    felt: Array, plan: Array, by_case: Array, added: Array, faults: Array, chosen: Array, turned: Array, turn: Array,
    state: Array, ring: Array, first: int, count: int, now: int, place: int, out: Array,
) -> None:  # fmt: skip
    """Fill `count` ticks of `out` from `first` on, all (row, time, case); `now` counts ticks from the start of the run.

    plan : (row, PLAN) array
        What each row goes through.
    by_case : (3, row, case) array
        Gain [1], offset [SI] and drift per tick [SI].
    added : (time, noisy row, case) array
        Noise, spikes and gaps of a block of ticks, of which `place` is the first wanted. [SI]
    faults, chosen : (entry, 6) and (entry, case) arrays
        As in `plant.faults.FaultTable`.
    turned, turn : (group, 3) and (3, 3) arrays
        Rows that form a vector of the sensor box, and what the box sees of it.
    state, ring : (4, row, case) and (delayed row, slot, case) arrays
        Memory; advanced.
    """
    given = np.empty((out.shape[0], out.shape[2]))
    for step in range(count):
        tick = now + step
        _take(felt, first + step, given)
        _wire(faults, chosen, turned, turn, tick, given)
        for row in range(out.shape[0]):
            value = given[row]
            if plan[row, FAULTY] > 0.0:
                _drift_by_fault(faults, chosen, row, tick, value)
            if plan[row, ADJUSTED] > 0.0:
                _adjust(by_case, row, tick, value)
                _saturate(plan[row, LOW], plan[row, HIGH], value)
            _pass_on(plan, row, state, ring, tick, value)
            _convert(plan, row, added[place + step], state[SAMPLE, row], tick, value)
            if plan[row, FAULTY] > 0.0:
                _lose(faults, chosen, row, tick, state[LAST, row], value)
            for case in range(value.size):
                out[row, first + step, case] = value[case]
