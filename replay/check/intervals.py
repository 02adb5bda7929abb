"""Intervals in which a state was active, folded out of a trace chunk by chunk."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from dualduty.errors import BadInput
from dualduty.signals import ROLES
from dualduty.trace import Trace, TraceChunk
from replay.check.interval_sets import Array, union

Interval = tuple[float, float]  # s since the first tick, half open
Ticks = NDArray[np.int64]


@dataclass
class ActiveStretches:
    """Collects the intervals of one row of ticks; an interval may run through any number of chunks."""

    dt: float
    _edges: list[Ticks] = field(default_factory=list)
    _on: bool = False
    _next: int = 0

    def add(self, active: NDArray[np.bool_]) -> None:
        """Take in the next ticks."""
        if len(active) == 0:
            return
        edges = np.flatnonzero(active[1:] != active[:-1]) + 1
        self._edges.append((np.concatenate([[0], edges]) if bool(active[0]) != self._on else edges) + self._next)
        self._on = bool(active[-1])
        self._next += len(active)

    def ticks(self) -> Ticks:
        """First tick of each interval and the one after its last, (interval, 2); one that is still open ends here."""
        last = [np.array([self._next])] if self._on else []
        return np.concatenate([*self._edges, *last, np.zeros(0, dtype=np.int64)]).reshape(-1, 2)

    def end(self) -> list[Interval]:
        """All intervals in seconds; one that is still open ends with the trace."""
        return [(start * self.dt, end * self.dt) for start, end in self.ticks().tolist()]


@dataclass(frozen=True)
class Line:
    """One state, at the corners looked at together; "" for the whole vehicle."""

    state: str
    where: str
    corners: tuple[int, ...]


@dataclass(frozen=True)
class SeenStates:
    """Ticks in which each row of each state was active, (interval, 2); how many ticks ran, and their step [s]."""

    rows: dict[str, tuple[Ticks, ...]]
    ran: int
    dt: float

    @property
    def length(self) -> float:
        """How long the trace ran. [s]"""
        return self.ran * self.dt

    def of(self, line: Line) -> Array:
        """Intervals in which a line's state was active at any of its corners, (interval, 2) [s]."""
        rows = self.rows[line.state]
        ticks = np.concatenate([rows[corner] for corner in line.corners if corner < len(rows)])
        return np.asarray(union(ticks.astype(float)) * self.dt)

    def of_rows(self, state: str) -> Array:
        """Intervals of all rows one after another, (interval, 2) [s]."""
        return np.asarray(np.concatenate(self.rows[state]).astype(float) * self.dt)


@dataclass(frozen=True)
class Detected:
    """Intervals by line, and how long the trace was. [s]"""

    intervals: dict[Line, list[Interval]]
    length: float


def seen_states(trace: Trace, states: Iterable[str], case: int = 0) -> SeenStates:
    """When each state of a trace was active, by row; ticks that aren't running count as inactive. One pass over the trace."""
    folds: dict[str, list[ActiveStretches]] = {}
    ran = -1
    for chunk in trace:
        folds = folds or {state: [ActiveStretches(trace.header.dt) for _ in chunk.states[state]] for state in states}
        ran = max(ran, 0) + _add(chunk, folds, case)
    if ran < 0:
        raise BadInput("trace", "is empty: expected at least one chunk")
    return SeenStates({state: tuple(fold.ticks() for fold in rows) for state, rows in folds.items()}, ran, trace.header.dt)


def _add(chunk: TraceChunk, folds: dict[str, list[ActiveStretches]], case: int) -> int:
    running = _of_case(chunk.running, case)[0] > 0
    ran = int(np.count_nonzero(running))
    for state, rows in folds.items():
        values = _of_case(chunk.states[state], case)
        for row, fold in enumerate(rows):
            active = values[row] > 0
            fold.add(active if ran == len(running) else active & running)
    return ran


def detected(trace: Trace, lines: Sequence[Line], case: int = 0) -> Detected:
    """Intervals in which each line's state is active at any of its corners; `trace.header.states` names the states."""
    seen = seen_states(trace, dict.fromkeys(line.state for line in lines), case)
    return Detected({line: [(start, end) for start, end in seen.of(line).tolist()] for line in lines}, seen.length)


def _of_case(values: NDArray[np.float64], case: int) -> NDArray[np.float64]:
    return values[:, :, case if values.shape[2] > 1 else 0]


def lines_of(state: str, corners: int, roles: Sequence[str]) -> Iterator[Line]:
    """Lines of a state: those of a vehicle state are one; corners that any mark names together are looked at together."""
    if corners == 1:
        yield Line(state, "", (0,))
        return
    groups = [{corner} for corner in range(corners)]
    for role in dict.fromkeys(roles):
        named = set(ROLES[role]) if role else set(range(corners))
        touched = [group for group in groups if group & named]
        groups = [group for group in groups if not group & named] + [set().union(*touched)]
    for group in sorted(groups, key=min):
        yield Line(state, _name(group, corners), tuple(sorted(group)))


def _name(group: set[int], corners: int) -> str:
    if len(group) == corners:
        return "any corner"
    return next((role for role, members in ROLES.items() if set(members) == group), "+".join(str(corner) for corner in sorted(group)))
