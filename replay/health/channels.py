"""What the finders know of a log's rows: their names for people, their columns, and which clock they share."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

from dualduty.signals import CORNER_LABELS, Signal

if TYPE_CHECKING:
    from replay.log import Log

_WORDS: Final = {
    "shaft_travel": "travel", "specific_force_x": "forward force", "specific_force_y": "lateral force",
    "specific_force_z": "vertical force",
}  # fmt: skip
# Channels that rest at a value for long, or have limits of their own, and are sound all the same.
RESTING: Final = ("brake", "throttle", "applied_", "logged_", "driver_trim", "marker")
ESSENTIAL: Final = (
    "shaft_travel", "specific_force_z", "wheel_speed", "yaw_rate", "roll_rate", "pitch_rate", "specific_force_x", "specific_force_y",
)  # fmt: skip


@dataclass(frozen=True)
class Row:
    """One row of a log: its signal, corner and column; `bridge` is how long a blank is no dropout, `latency` as in its channel map. [s]"""

    index: int
    signal: Signal
    corner: int
    column: str = ""
    bridge: float = 0.0
    latency: float = 0.0

    @property
    def label(self) -> str:
        """What people call it: `rear-left travel`."""
        words = _WORDS.get(self.signal.name, self.signal.name.replace("_", " "))
        return f"{CORNER_LABELS[self.corner]} {words}" if self.signal.corners > 1 else words

    @property
    def rests(self) -> bool:
        """Whether it may well stand still."""
        return self.signal.name.startswith(RESTING)

    @property
    def essential(self) -> bool:
        """Whether detectors and laws stand on it."""
        return self.signal.name in ESSENTIAL


@dataclass(frozen=True)
class Channels:
    """Rows of a log by index, and the clock (group of the recording) of each stream and of each row."""

    rows: Mapping[int, Row]
    clocks: Mapping[int, int]
    clock_of_row: Mapping[int, int] = field(default_factory=dict)
    clock_names: Sequence[str] = field(default=("",))
    log: str = "log"

    def of(self, name: str) -> list[Row]:
        """The rows of a signal that the log has, by corner."""
        return sorted((row for row in self.rows.values() if row.signal.name == name), key=lambda row: row.corner)

    def clock_of(self, row: int) -> int:
        """The clock a row hangs on."""
        return self.clock_of_row.get(row, 0)

    def clock_label(self, clock: int) -> str:
        """What people call a clock."""
        name = self.clock_names[clock] if clock < len(self.clock_names) else ""
        return f"clock of {name}" if name else "clock"


def channels_of(log: Log) -> Channels:
    """The channels found in a log."""
    signals = {signal.name: signal for signal in log.layout.signals}
    rows = {
        found.row: Row(found.row, signals[channel.name], channel.corner, found.column, channel.bridge, channel.latency)
        for found in log.resolved.found
        for channel in (found.channel,)
    }
    clocks = {stream.index: stream.group for stream in log.streams}
    clock_of_row = {found.row: found.group for found in log.resolved.found}
    return Channels(rows, clocks, clock_of_row, tuple(group.name for group in log.recording.groups), log.name)
