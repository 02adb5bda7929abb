"""When a detection counts as finding a mark, state by state.

Two kinds of evidence exist. *Edges* near each other, within a collar: right where the moment matters and a mark is sharp to a few
samples, as at take-off. *Overlap* by a share of the union: right where a mark is soft by more than any collar, as of a long corner that
two people see begin half a second apart. The usual rule takes either: a damper acts on the onset, so an onset in time is enough; and a
mark that is mostly covered is not missed because its first edge is a matter of taste. The end of a state decides nothing unless a rule
asks for it: a landing is latched and a corner fades out on purpose, long after what was marked is over. It is measured as offset latency.

References
----------
Collar on the onset, and offset within the larger of the collar and half the length: Mesaros, Heittola and Virtanen, "Metrics for
polyphonic sound event detection", Applied Sciences 6(6), 2016. Overlap in place of collars where labels are subjective: Bilen et al., "A
framework for the robust evaluation of sound event detection", 2020, arXiv 1910.08440; over all thresholds: Ebbers et al., 2022, arXiv
2201.13148. The values of collars, margin and overlap are ours.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from replay.check.interval_sets import Array, Bools, interval_array
from replay.check.intervals import Interval
from replay.check.matching import overlap_shares

MARGIN: Final = 0.02  # s, softness of a mark's edges that says nothing of its own
LEAST_OVERLAP: Final = 0.5  # overlap over union
OFFSET_SHARE: Final = 0.5  # of the mark's length
WAYS: Final = ("overlap or onset", "overlap or onset and offset", "overlap", "onset", "onset and offset")
ROUNDING: Final = 1e-9  # s; ticks times their step
_COLLARS: Final = {"airborne": 0.05, "wheel_off": 0.05, "landing": 0.05, "bottoming": 0.05, "whoops": 0.5, "rough": 0.5, "corrugation": 0.5}
_COLLAR: Final = 0.15  # s; cornering, braking and what else a driver does


@dataclass(frozen=True)
class Rule:
    """How near an onset must be, how late it may be at most (None: no limit), how soft edges are [s], and which evidence counts."""

    collar: float = _COLLAR
    deadline: float | None = None
    margin: float = MARGIN
    match: str = WAYS[0]

    def finds(self, mark: Interval, detection: Interval) -> bool:
        """True when the detection finds the mark."""
        return bool(self.allowed(interval_array([mark]), interval_array([detection]))[0])

    def allowed(self, marks: Array, detections: Array, margins: Array | None = None) -> Bools:
        """Which pairs may be found, (pair,): marks and detections as (pair, 2) arrays, `margins` of the marks' edges alike. [s]

        An edge can't be asked to be nearer than the mark itself is sure of, so a margin wider than the collar takes its place.
        """
        soft = np.full((len(marks), 2), self.margin) if margins is None else margins
        late = detections[:, 0] - marks[:, 0]
        onset = np.abs(late) <= np.maximum(self.collar, soft[:, 0]) + ROUNDING
        found = np.zeros(len(marks), dtype=bool)
        if "overlap" in self.match:
            found |= overlap_shares(marks, detections) >= LEAST_OVERLAP
        if "offset" in self.match:
            reach = np.maximum(np.maximum(self.collar, OFFSET_SHARE * (marks[:, 1] - marks[:, 0])), soft[:, 1])
            found |= onset & (np.abs(detections[:, 1] - marks[:, 1]) <= reach + ROUNDING)
        elif "onset" in self.match:
            found |= onset
        return found if self.deadline is None else found & (late <= self.deadline + ROUNDING)


def usual_rule(state: str) -> Rule:
    """The rule of a state where none is given, by what kind of state it is."""
    return Rule(next((collar for name, collar in _COLLARS.items() if state.startswith(name)), _COLLAR))
