"""What must be found in a simulated drive, and where nobody is sure, state by state: the definitions of `dualduty.truth_states`.

A study looks closer than a mark does: hops from `LEAST_HOP` on count, and are classed by how long they last. Nobody is sure where a
state is true only by softer limits (a bend that is hardly a turn, a pedal that is hardly touched), where an axle but not the whole
vehicle is off the ground, and for a while after it has come down.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import sqrt
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.signals import CORNER_LABELS
from dualduty.study.stretches import lasting, stretches
from dualduty.trace import Header, TraceChunk
from dualduty.true_ground import Stretch
from dualduty.truth_states import Limits, truth_by_corner, truth_intervals, unsure_intervals
from replay.check.intervals import Interval
from replay.check.matching import merged

Gate = NDArray[np.bool_]

LEAST_HOP: Final = 0.03  # s; a wheel off the ground for less counts neither way
LEAST_FLIGHT: Final = 0.08  # s in the air, less is no landing; common practice
SURE: Final = Limits(least_flight=LEAST_HOP, flight_before_landing=LEAST_FLIGHT)
SOFT: Final = replace(
    SURE, least_flight=0.0, flight_before_landing=0.0, turning=0.6 * SURE.turning, least_turn=0.0, pedal=0.4 * SURE.pedal,
    least_braking=0.0, deceleration=0.5 * SURE.deceleration, throttle=0.6 * SURE.throttle, acceleration=0.5 * SURE.acceleration,
    least_felt=0.0, rough=SURE.rough / sqrt(2.0), smooth=SURE.smooth * sqrt(2.0), least_ground=0.0, still=2.0 * SURE.still,
    walking=1.5 * SURE.walking, least_slow=0.0, slope=0.7 * SURE.slope, least_slope=0.0, stop_lead=3.0 * SURE.stop_lead,
)  # fmt: skip
_IN_THE_AIR: Final = ("airborne", "airborne_likely")


@dataclass(frozen=True)
class Happening:
    """One interval [s] in which a state was true; `size` is the time by which it is classed. [s]"""

    start: float
    end: float
    size: float

    @property
    def interval(self) -> Interval:
        """Start and end."""
        return (self.start, self.end)


@dataclass(frozen=True)
class TruthLine:
    """One state at one corner (-1: the whole vehicle): what must be found, and where nobody is sure."""

    state: str
    corner: int
    sure: tuple[Happening, ...]
    unsure: tuple[Interval, ...]

    @property
    def where(self) -> str:
        """Label of the corner, "" for the whole vehicle."""
        return CORNER_LABELS[self.corner] if self.corner >= 0 else ""


def truth_lines(whole: TraceChunk, header: Header, case: int, kind: Sequence[Stretch]) -> Iterator[TruthLine]:
    """Every state that the truth knows, of one case; arguments as `truth_states.truth_intervals`."""
    sure, soft = (truth_intervals(whole, header, case, kind, limits) for limits in (SURE, SOFT))
    unsure = unsure_intervals(whole, header, case, SURE)
    partly = _partly_off(whole, header, case)
    for state, intervals in sure.items():
        doubtful = [*soft[state], *unsure.get(state, ())]
        if state in _IN_THE_AIR:
            doubtful += partly
        if state == "landing":
            doubtful += [(end, end + SURE.landing_lasts) for _, end in lasting(partly, LEAST_FLIGHT)]
        sizes = _air_times(intervals, sure["airborne"]) if state == "landing" else [end - start for start, end in intervals]
        yield TruthLine(state, -1, _sized(intervals, sizes), tuple(merged(doubtful)))
    by_corner, soft_by_corner = (truth_by_corner(whole, header, case, limits) for limits in (SURE, SOFT))
    for state, corners in by_corner.items():
        for corner, intervals in enumerate(corners):
            sizes = [end - start for start, end in intervals]
            yield TruthLine(state, corner, _sized(intervals, sizes), tuple(merged(soft_by_corner[state][corner])))


def _sized(intervals: Sequence[Interval], sizes: Sequence[float]) -> tuple[Happening, ...]:
    return tuple(Happening(start, end, size) for (start, end), size in zip(intervals, sizes, strict=True))


def _air_times(landings: Sequence[Interval], flown: Sequence[Interval]) -> list[float]:
    """How long the flight lasted that each landing ended. [s]"""
    return [max((end - start for start, end in flown if abs(end - touch) < LEAST_HOP), default=0.0) for touch, _ in landings]


def _partly_off(whole: TraceChunk, header: Header, case: int) -> list[Interval]:
    """Intervals in which at least two wheels are off the ground."""
    every = round(header.dt / header.truth_dt)
    ticks = int(whole.running[0, :, case].sum())
    off = whole.truth["wheel_load"][:, : ticks * every : every, case] < SURE.no_load
    return stretches(np.asarray(off.sum(axis=0) >= 2), header.dt)  # noqa: PLR2004 - an axle's worth


def flights(off: Gate, dt: float, least: float = LEAST_HOP) -> list[Interval]:
    """Intervals in which all four wheels are off the ground; (4, tick) gate."""
    return lasting(stretches(np.asarray(off.all(axis=0)), dt), least)
