"""When the driver pressed the marker button."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from replay.health.channels import Channels

if TYPE_CHECKING:
    from replay.log import LogPart

PRESSED: Final = 0.5
BOUNCE: Final = 0.3  # s; a thumb can't press twice within this
MOST: Final = 10_000


class MarkerPresses:
    """Collects the times at which the marker channel rises."""

    def __init__(self, channels: Channels) -> None:
        found = channels.of("marker")
        self.there = bool(found)
        self._row = found[0].index if found else -1
        self._down = False
        self.times: list[float] = []

    def see(self, part: LogPart) -> None:
        """Take in the next part."""
        at = np.flatnonzero(part.rows == self._row)
        if not len(at) or not len(part.time):
            return
        values = part.values[at[0]]
        there = ~np.isnan(values)
        down = values[there] > PRESSED
        if not len(down):
            return
        rises = np.flatnonzero(np.diff(np.concatenate([[self._down], down]).astype(np.int8)) > 0)
        self._down = bool(down[-1])
        for time in part.time[there][rises].tolist():
            if (not self.times or time - self.times[-1] > BOUNCE) and len(self.times) < MOST:
                self.times.append(time)
