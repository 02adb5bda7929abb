"""Intervals in which a state was active, folded out of a trace chunk by chunk."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from dualduty.signals import ROLES
from dualduty.trace import Trace

Array = NDArray[np.float64]
Interval = tuple[float, float]  # s since the first tick, half open


@dataclass
class ActiveStretches:
    """Collects the intervals of one row of ticks; an interval may run through any number of chunks."""

    dt: float
    intervals: list[Interval] = field(default_factory=list)
    _since: int = -1
    _next: int = 0

    def add(self, active: NDArray[np.bool_]) -> None:
        """Take in the next ticks."""
        before = self._since >= 0
        edges = np.flatnonzero(np.diff(np.concatenate([[before], active]).astype(np.int8)))
        for tick in (int(edge) + self._next for edge in edges):
            if self._since < 0:
                self._since = tick
            else:
                self.intervals.append((self._since * self.dt, tick * self.dt))
                self._since = -1
        self._next += len(active)

    def end(self) -> list[Interval]:
        """All intervals; one that is still open ends with the trace."""
        if self._since >= 0:
            self.intervals.append((self._since * self.dt, self._next * self.dt))
            self._since = -1
        return self.intervals


@dataclass(frozen=True)
class Line:
    """One state, at the corners looked at together; "" for the whole vehicle."""

    state: str
    where: str
    corners: tuple[int, ...]


@dataclass(frozen=True)
class Detected:
    """Intervals by line, and how long the trace was. [s]"""

    intervals: dict[Line, list[Interval]]
    length: float


def detected(trace: Trace, lines: Sequence[Line], case: int = 0) -> Detected:
    """Intervals in which each line's state is active at any of its corners.

    `trace.header.states` names them all; ticks that aren't running count as inactive.
    """
    stretches = {line: ActiveStretches(trace.header.dt) for line in lines}
    ticks = 0
    for chunk in trace:
        running = _of_case(chunk.running, case)[0] > 0
        ticks += int(running.sum())
        for line, stretch in stretches.items():
            rows = _of_case(chunk.states[line.state], case)
            corners = [corner for corner in line.corners if corner < len(rows)]
            stretch.add((rows[corners] > 0).any(axis=0) & running)
    return Detected({line: stretch.end() for line, stretch in stretches.items()}, ticks * trace.header.dt)


def _of_case(values: Array, case: int) -> Array:
    return values[:, :, case if values.shape[2] > 1 else 0]


def lines_of(state: str, corners: int, roles: Sequence[str]) -> Iterator[Line]:
    """Lines of a state: those of a vehicle state are one; corners that any mark names together are looked at together."""
    if corners == 1:
        yield Line(state, "", (0,))
        return
    groups = [{corner} for corner in range(corners)]
    for role in roles:
        named = set(ROLES[role]) if role else set(range(corners))
        touched = [group for group in groups if group & named]
        groups = [group for group in groups if not group & named] + [set().union(*touched)]
    for group in sorted(groups, key=min):
        yield Line(state, _name(group, corners), tuple(sorted(group)))


def _name(group: set[int], corners: int) -> str:
    if len(group) == corners:
        return "any corner"
    return next((role for role, members in ROLES.items() if set(members) == group), "+".join(str(corner) for corner in sorted(group)))
