"""One state held against its marks for many cases of one log: what `check` would say of each, from when the state was active."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from dualduty.errors import BadInput
from replay.check.cross_triggers import with_cross_triggers
from replay.check.interval_sets import Array, interval_array, union
from replay.check.intervals import SeenStates, Ticks, lines_of
from replay.check.line import LineCheck
from replay.check.pool import joined
from replay.check.result import CheckResult, state_result
from replay.check.rules import Rule
from replay.marks.mark import NOT_STATES, REJECTED, WATCHED, Mark


@dataclass(frozen=True)
class StateCheck:
    """One state of one log: its rule, all marks of the log, and the detector class under test."""

    state: str
    rule: Rule
    marks: Sequence[Mark]
    supplier: str

    @cached_property
    def _named(self) -> list[Mark]:
        return [mark for mark in self.marks if mark.state not in NOT_STATES and mark.status != REJECTED]

    @cached_property
    def _mine(self) -> tuple[list[Mark], list[Mark]]:
        """Marks of the state: those that count, and those that count neither way."""
        mine = [mark for mark in self._named if mark.state == self.state]
        return [mark for mark in mine if mark.counts], [mark for mark in mine if not mark.counts]

    @cached_property
    def _marked(self) -> dict[str, Array]:
        counted = [mark for mark in self._named if mark.counts]
        states = dict.fromkeys(mark.state for mark in counted)
        return {state: interval_array((mark.start, mark.end) for mark in counted if mark.state == state) for state in states}

    @cached_property
    def _watched(self) -> Array:
        return union(interval_array((mark.start, mark.end) for mark in self.marks if mark.state == WATCHED))

    def of(self, rows: tuple[Ticks, ...], ran: int, dt: float) -> CheckResult:
        """Check one case.

        rows : tuple of (stretch, 2) int arrays
            First tick of each stretch in which the state was active and the one after its last, by row of the state.
        ran : int
            How many ticks the log has.
        dt : float
            Step between ticks. [s]
        """
        seen = SeenStates({self.state: rows}, ran, dt)
        beyond = next((mark for mark in self._named if mark.start >= seen.length), None)
        if beyond is not None:
            raise BadInput(
                f"marks line {beyond.row}", f"{beyond.state!r} begins at {beyond.start:g} s; the log ends at {seen.length:.3f} s"
            )
        counted, soft = self._mine
        watched = self._watched if len(self._watched) else interval_array([(0.0, seen.length)])
        places = [mark.where for mark in (*counted, *soft)]
        lines = [LineCheck(line, self.rule, counted, soft, seen, watched) for line in lines_of(self.state, len(rows), places)]
        own = f"detector {self.supplier} " if self.supplier else "detector "
        events = with_cross_triggers([event for line in lines for event in line.events(own)], self._marked)
        exposure = joined([line.exposure(seen.length) for line in lines])
        return CheckResult(tuple(events), (state_result(self.state, self.rule, events, exposure),), seen.length, dt)
