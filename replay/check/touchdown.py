"""How long before touchdown a flight was seen, by how long it lasted.

What counts for a damper is the duty reached when the wheels come down. A detector that is 90 ms late is early for a jump of half a
second and useless for a hop of a tenth, so a median over all flights says little: flights are told apart by air time. Only the detection is
judged here; a valve needs its own time after it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from replay.check.result import CheckResult, Event

FLIGHT: Final = "airborne"
CLASSES: Final[dict[str, tuple[float, float]]] = {
    "under_120": (0.0, 0.12), "120_to_250": (0.12, 0.25), "250_to_500": (0.25, 0.5), "over_500": (0.5, np.inf),
}  # fmt: skip


@dataclass(frozen=True)
class AirTimeClass:
    """Flights of one class of air time: margins of those found, touchdown less onset of the detection; (flight,) [s]."""

    key: str
    marks: int
    margins: tuple[float, ...]

    @property
    def label(self) -> str:
        """In words, with the unit."""
        return air_time_label(self.key)

    @property
    def median(self) -> float:
        """Median margin; NaN where none was found. [s]"""
        return float(np.median(self.margins)) if self.margins else np.nan

    @property
    def least(self) -> float:
        """Least margin; NaN where none was found. [s]"""
        return min(self.margins, default=np.nan)


def air_time_label(key: str) -> str:
    """A class of air time in words."""
    return key.replace("_", " ") + " ms"


def air_time_class(event: Event) -> str:
    """Which class a marked flight belongs to."""
    lasts = event.mark_end - event.mark_start
    return next(key for key, (low, high) in CLASSES.items() if low <= lasts + 1e-9 < high or high == np.inf)


def margin_before_touchdown(event: Event) -> float:
    """Touchdown less onset of the detection; NaN for a mark that was missed. [s]"""
    return event.mark_end - event.detected_start


def by_air_time(result: CheckResult) -> list[AirTimeClass]:
    """Marked flights by class, shortest first; those that the detector proposed itself are left out, as are empty classes."""
    flights = [event for event in result.events if event.state == FLIGHT and event.outcome in ("found", "missed") and not event.own]
    found: list[AirTimeClass] = []
    for key in CLASSES:
        mine = [event for event in flights if air_time_class(event) == key]
        margins = tuple(margin_before_touchdown(event) for event in mine if event.outcome == "found")
        if mine:
            found.append(AirTimeClass(key, len(mine), margins))
    return found
