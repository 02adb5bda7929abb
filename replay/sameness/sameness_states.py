"""How far logged and replayed states agree: share of ticks, and event by event how far onsets and ends lie apart."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.signals import CORNERS
from replay.check.intervals import ActiveStretches, Interval
from replay.check.matching import match
from replay.sameness.sameness_shift import Block

Array = NDArray[np.float64]

HALF: Final = 0.5  # a state is 0 or 1
REACH: Final = 0.5  # s; events further apart are two events


@dataclass(frozen=True)
class StateEvent:
    """One activation of a state as it was logged and as it was replayed; NaN where only the other has it. [s]"""

    corner: str
    logged: Interval
    replayed: Interval

    @property
    def off(self) -> float:
        """Replayed onset or end less the logged one, whichever lies further off; NaN where only one has it. [s]"""
        return max((self.replayed[end] - self.logged[end] for end in (0, 1)), key=abs)

    @property
    def only(self) -> str:
        """Which of the two, "log" or "replay", is the only one that has it; empty where both have."""
        if np.isnan(self.logged[0]):
            return "replay"
        return "log" if np.isnan(self.replayed[0]) else ""


@dataclass(frozen=True)
class StateAgreement:
    """One state: ticks compared (over its rows), those that agree, time active in each [s], and its events."""

    state: str
    compared: int
    agreeing: int
    logged_active: float
    replayed_active: float
    events: tuple[StateEvent, ...]

    @property
    def share(self) -> float:
        """Share of ticks that agree, NaN where nothing could be compared."""
        return self.agreeing / self.compared if self.compared else float("nan")

    @property
    def share_active(self) -> float:
        """Share of the active time that both have; 1 where neither was ever active. A state that never comes agrees on most ticks."""
        both = sum(max(min(e.logged[1], e.replayed[1]) - max(e.logged[0], e.replayed[0]), 0.0) for e in self.events if not e.only)
        either = self.logged_active + self.replayed_active - both
        return both / either if either > 0.0 else 1.0

    def off_by_more(self, seconds: float) -> list[StateEvent]:
        """Events of which only one has any, or whose onset or end lies further off."""
        return [event for event in self.events if event.only or abs(event.off) > seconds]


class StateFold:
    """Takes blocks in order."""

    def __init__(self, names: Sequence[str], dt: float) -> None:
        self._dt = dt
        self._counts = {name: np.zeros(2, np.int64) for name in names}
        self._stretches: dict[str, list[tuple[ActiveStretches, ActiveStretches]]] = {name: [] for name in names}

    def take(self, block: Block) -> None:
        """Count the next block."""
        for name, one in block.states.items():
            known = np.isfinite(one.logged) & block.settled
            active = one.logged > HALF
            agree = known & (np.where(active, one.high, 1.0 - one.low) > HALF)
            self._counts[name] += (known.sum(), agree.sum())
            rows = self._stretches[name]
            while len(rows) < len(known):
                rows.append((ActiveStretches(self._dt), ActiveStretches(self._dt)))
            for row, (logged, replayed) in enumerate(rows):
                logged.add(known[row] & active[row])
                replayed.add(known[row] & (one.replayed[row] > HALF))

    def result(self) -> tuple[StateAgreement, ...]:
        """One per state."""
        return tuple(self._one(name, rows) for name, rows in self._stretches.items())

    def _one(self, name: str, rows: list[tuple[ActiveStretches, ActiveStretches]]) -> StateAgreement:
        events: list[StateEvent] = []
        active = [0.0, 0.0]
        for row, pair in enumerate(rows):
            logged, replayed = (stretches.end() for stretches in pair)
            events += paired(logged, replayed, CORNERS[row] if len(rows) == len(CORNERS) else "")
            for index, intervals in enumerate((logged, replayed)):
                active[index] += sum(end - start for start, end in intervals)
        compared, agreeing = self._counts[name].tolist()
        return StateAgreement(name, compared, agreeing, active[0], active[1], tuple(events))


def paired(logged: Sequence[Interval], replayed: Sequence[Interval], corner: str = "") -> list[StateEvent]:
    """Events of both in order of time, one to one where they overlap or begin within `REACH` of each other."""
    pairs = match(logged, replayed, lambda one, other: abs(one[0] - other[0]) <= REACH or (one[0] < other[1] and other[0] < one[1]), REACH)
    nothing = (float("nan"), float("nan"))
    events = [StateEvent(corner, one, replayed[pairs[index]] if index in pairs else nothing) for index, one in enumerate(logged)]
    taken = set(pairs.values())
    events += [StateEvent(corner, nothing, other) for index, other in enumerate(replayed) if index not in taken]
    return sorted(events, key=lambda event: event.logged[0] if event.only != "replay" else event.replayed[0])
