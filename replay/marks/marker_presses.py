"""The driver's marker button: each press of it as a note tied to its time."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.errors import BadInput
from replay.log import Log
from replay.marks.mark import BUTTON, NOTE, Mark
from replay.raw_signals import raw_signals

Array = NDArray[np.float64]

BOUNCE: Final = 0.3  # s from one press to the next; contacts bounce for milliseconds, and no thumb presses twice within this; ours
PRESSED: Final = 0.5  # above this it is pressed


def marker_presses(log: Log) -> list[Mark]:
    """A note for each press, from press to release; BadInput where the log has no such button."""
    if not log.has("marker"):
        raise BadInput(log.name, f"has no marker button: expected its column under [marker] in {log.channel_map.file}")
    rows = raw_signals(log, ("marker",)).get("marker", [])
    return [
        Mark(NOTE, start, end, who="driver", note="marker button", origin=BUTTON)
        for row in rows
        for start, end in presses(row.time, row.values)
    ]


def presses(time: Array, values: Array, bounce: float = BOUNCE) -> list[tuple[float, float]]:
    """When a button was pressed and let go.

    Parameters
    ----------
    time : (sample,) array
        Rising. [s]
    values : (sample,) array
        Above one half while it is pressed; NaN where nothing is known.
    bounce : float
        A press that begins so soon after the beginning of another belongs to it. [s]
    """
    button = Button(bounce)
    button.take(time, values)
    return button.presses


class Button:
    """Presses of a button, taken in stretch by stretch: start and end of each. [s]"""

    def __init__(self, bounce: float = BOUNCE) -> None:
        self.presses: list[tuple[float, float]] = []
        self._bounce = bounce
        self._down = False

    def take(self, time: Array, values: Array) -> None:
        """The next samples; a press that isn't over lasts to the newest of them."""
        known = np.isfinite(values)
        time, down = time[known], values[known] > PRESSED
        if not len(time):
            return
        if self._down:
            self._until(float(time[0]))
        for edge in np.flatnonzero(np.diff(np.concatenate([[self._down], down]).astype(np.int8))).tolist():
            if down[edge]:
                self._from(float(time[edge]))
            else:
                self._until(float(time[edge]))
        self._down = bool(down[-1])
        if self._down:
            self._until(float(time[-1]))

    def _from(self, start: float) -> None:
        if not self.presses or start - self.presses[-1][0] > self._bounce:
            self.presses.append((start, start))

    def _until(self, end: float) -> None:
        self.presses[-1] = (self.presses[-1][0], end)
