"""Is what is replayed what the vehicle ran: how far replayed duties and states agree with the logged ones, and where they don't."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import isnan

import numpy as np
from numpy.typing import NDArray

from dualduty.signals import CORNERS, SIDES
from dualduty.trace import Trace
from replay.sameness.logged_beside import NO_DUTIES, SETTLE, Beside, Logged, beside, what_is_logged
from replay.sameness.sameness_fold import DutyFold, DutyTally
from replay.sameness.sameness_shift import shifted
from replay.sameness.sameness_states import StateAgreement, StateFold
from replay.sameness.time_offset import LONGEST, OffsetFinder, TimeOffset

Array = NDArray[np.float64]


@dataclass(frozen=True)
class SamenessRules:
    """What counts as the same: duty tolerance [1], step of the log [s], time left to settle [s], longest offset looked for [s].

    `log_step` is how far samples of the logged duties lie apart: a logged value may be as old as that, so it agrees when
    the replay had it within that time.
    """

    tolerance: float = 0.01
    log_step: float = 0.005
    settle: float = SETTLE
    longest: float = LONGEST
    window: float = 1.0

    def slack_ticks(self, dt: float) -> int:
        """Ticks either way within which a logged value must be found in the replay."""
        return max(int(np.ceil(self.log_step / dt - 1e-6)), 1)


@dataclass(frozen=True, eq=False)
class Sameness:
    """One log against one replay of it.

    `tally` counts duties by side, corner, drive mode and layer, `states` those states that were logged; `seconds` is the
    length of the log and `left_out` what of it wasn't compared, by reason. [s]
    """

    candidate: str
    logged: Logged
    rules: SamenessRules
    dt: float
    modes: tuple[str, ...]
    layers: tuple[str, ...]
    offset: TimeOffset
    tally: DutyTally
    states: tuple[StateAgreement, ...]
    seconds: float
    left_out: dict[str, float] = field(default_factory=dict)

    @property
    def has_duties(self) -> bool:
        """Whether any duty was logged."""
        return self.logged.duties != NO_DUTIES

    def share(self, side: str) -> float:
        """Share of ticks and corners in which a side agrees, NaN where nothing could be compared."""
        row = SIDES.index(side)
        return ratio(self.tally.agreeing[row].sum(), self.tally.compared[row].sum())

    @property
    def worst(self) -> tuple[str, float]:
        """The side that agrees less, with its share."""
        shares = [(side, self.share(side)) for side in self.logged.sides]
        known = [(side, share) for side, share in shares if not isnan(share)]
        return min(known, key=lambda pair: pair[1]) if known else ("", float("nan"))

    @property
    def compared_seconds(self) -> float:
        """Time in which at least one duty was compared. [s]"""
        return self.tally.ticks * self.dt


def ratio(part: float, whole: float) -> float:
    """A share, NaN of nothing."""
    return float(part) / float(whole) if whole else float("nan")


def sameness(trace: Trace, rules: SamenessRules | None = None, case: int = 0) -> Sameness:
    """Compare what a replayed log recorded of its own controller with the replay; two passes over the trace."""
    rules = rules or SamenessRules()
    header = trace.header
    logged = what_is_logged(trace)
    finder = OffsetFinder(header.dt, rules.longest)
    ticks = 0
    for chunk in beside(trace, logged, rules.settle, case):
        finder.take(*_moving_rows(chunk, logged))
        ticks = chunk.start + chunk.ticks
    offset = finder.result(logged.expected_ticks)
    duties = DutyFold(rules.tolerance, header, rules.window)
    states = StateFold(logged.states, header.dt)
    left_out = dict.fromkeys(("settling after the start or a gap", "no logged value"), 0.0)
    for block in shifted(beside(trace, logged, rules.settle, case), offset, logged, rules.slack_ticks(header.dt), header.dt):
        duties.take(block)
        states.take(block)
        left_out["settling after the start or a gap"] += header.dt * int((~block.settled).sum())
        blank = np.isnan(block.logged).all(axis=0) if logged.sides else np.zeros(block.ticks, bool)
        left_out["no logged value"] += header.dt * int((block.settled & blank).sum())
    return Sameness(
        header.cases[case].candidate, logged, rules, header.dt, header.modes, header.layers, offset, duties.result(), states.result(),
        ticks * header.dt, {reason: seconds for reason, seconds in left_out.items() if seconds > 0.0},
    )  # fmt: skip


def _moving_rows(chunk: Beside, logged: Logged) -> tuple[Array, Array]:
    """What tells time: the duties, or the states where no duty was logged."""
    if logged.sides or not chunk.states:
        return chunk.logged, chunk.replayed
    pairs = list(chunk.states.values())
    return np.concatenate([pair[0] for pair in pairs]), np.concatenate([pair[1] for pair in pairs])


def rows_of(side: str) -> slice:
    """Rows of a side among the eight."""
    first = SIDES.index(side) * len(CORNERS)
    return slice(first, first + len(CORNERS))
