"""The driver's marker button: each press of it as a note tied to its time."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.errors import BadInput
from replay.log import Log
from replay.mark import BUTTON, NOTE, Mark
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
    known = np.isfinite(values)
    time, down = time[known], values[known] > PRESSED
    edges = np.diff(np.concatenate([[0], down.astype(np.int8), [0]]))
    starts, ends = np.flatnonzero(edges > 0), np.flatnonzero(edges < 0)
    found: list[tuple[float, float]] = []
    for first, after in zip(starts.tolist(), ends.tolist(), strict=True):
        start, end = float(time[first]), float(time[min(after, len(time) - 1)])
        if found and start - found[-1][0] <= bounce:
            found[-1] = (found[-1][0], end)
        else:
            found.append((start, end))
    return found
