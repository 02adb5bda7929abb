"""A log in memory as the logger holds it: stamps and columns, before faults and before it is written."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from dualduty.trial.clock import DT
from dualduty.trial.demo_session.columns import MODE, SESSION, recorded, stamps_of
from dualduty.trial.demo_session.record import Driven

Array = NDArray[np.float64]


@dataclass(eq=False)
class Frame:
    """Stamps since the first one [s], columns by name (NaN: blank), and which samples the logger kept; (sample,) arrays.

    `true_start` is the controller's time at stamp 0. [s] `time` is when each sample was really taken, whatever faults do to its stamp.
    """

    stamps: Array
    columns: dict[str, Array]
    true_start: float = 0.0
    kept: NDArray[np.bool_] = field(default_factory=lambda: np.zeros(0, np.bool_))
    time: Array = field(default_factory=lambda: np.zeros(0))

    def __post_init__(self) -> None:
        self.kept = np.ones(len(self.stamps), np.bool_)
        self.time = self.stamps.copy()

    @property
    def length(self) -> float:
        """[s]"""
        return float(self.time[-1])

    def within(self, start: float, end: float) -> NDArray[np.bool_]:
        """Samples taken from start to end. [s]"""
        return (self.time >= start) & (self.time < end)


def frame_of(driven: Driven) -> Frame:
    """The log of a drive as a flawless logger writes it."""
    stamps = stamps_of(driven.ticks, DT, np.random.default_rng([driven.drive.seed, 3]))
    return Frame(stamps - stamps[0], recorded((*SESSION, MODE), driven.rows), float(stamps[0]))
