"""When the driver pressed the marker button, as the log is read."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from replay.health.channels import Channels
from replay.marks.marker_presses import Button

if TYPE_CHECKING:
    from replay.log import LogPart


class MarkerPresses:
    """Collects the presses of the marker channel, as stamped: the driver pressed then, whenever the controller had it."""

    def __init__(self, channels: Channels) -> None:
        found = channels.of("marker")
        self.there = bool(found)
        self._row = found[0].index if found else -1
        self._latency = found[0].latency if found else 0.0
        self._button = Button()

    @property
    def times(self) -> list[float]:
        """When each press began. [s]"""
        return [start for start, _ in self._button.presses]

    def see(self, part: LogPart) -> None:
        """Take in the next part."""
        at = np.flatnonzero(part.rows == self._row)
        if len(at) and len(part.time):
            self._button.take(part.time - self._latency, part.values[at[0]])
