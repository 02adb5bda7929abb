"""Parts of a log made by hand, and a demo log as a slow copy, for the tests of its health; nothing here was measured on a vehicle."""

from __future__ import annotations

import functools
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from dualduty.shipped import shipped_calibrations
from dualduty.signals import CONTROLLER_LAYOUT, SIGNALS
from replay.channels.channel_map import MARKER
from replay.channels.channel_map_file import read_channel_map
from replay.health.channels import Channels, Row, channels_of
from replay.health.check_log import Finder
from replay.health.finding import Finding
from replay.health.slow_copy import SlowCopy, SlowMotion
from replay.log import Log, LogPart
from replay.open_log import open_log

Array = NDArray[np.float64]
RATE = 200.0  # Hz
MARKER_ROW = CONTROLLER_LAYOUT.size


def clock(seconds: float, rate: float = RATE) -> Array:
    """Even stamps. [s]"""
    return np.arange(round(seconds * rate)) / rate


def rows_of(signals: Mapping[str, Array]) -> dict[int, Array]:
    """Rows of the controller's layout from (sample,) or (4, sample) arrays by name; `marker` comes after them."""
    rows: dict[int, Array] = {}
    for name, values in signals.items():
        start = MARKER_ROW if name == "marker" else CONTROLLER_LAYOUT.rows[name].start
        rows |= {start + corner: row for corner, row in enumerate(np.atleast_2d(values))}
    return rows


def named(index: int) -> tuple[str, int]:
    """Signal and corner of a row."""
    if index == MARKER_ROW:
        return "marker", 0
    name = next(name for name, rows in CONTROLLER_LAYOUT.rows.items() if rows.start <= index < rows.stop)
    return name, index - CONTROLLER_LAYOUT.rows[name].start


class HandMade:
    """A log of several clocks: each has its stamps [s] and its signals [SI]."""

    def __init__(self, *clocks: tuple[Array, Mapping[str, Array]], bridge: float = 0.0) -> None:
        self.clocks = [(stamps, rows_of(signals)) for stamps, signals in clocks]
        rows: dict[int, Row] = {}
        for _, held in self.clocks:
            for index in held:
                name, corner = named(index)
                rows[index] = Row(index, MARKER if name == "marker" else SIGNALS[name], corner, f"column {index}", bridge)
        of_row = {index: at for at, (_, held) in enumerate(self.clocks) for index in held}
        names = ("",) if len(clocks) == 1 else tuple(f"group {at}" for at in range(len(clocks)))
        self.channels = Channels(rows, {at: at for at in range(len(clocks))}, of_row, names)

    def parts(self, size: int = 1700) -> Iterator[LogPart]:
        """Parts of `size` samples, clock after clock within each round."""
        for start in range(0, max(len(stamps) for stamps, _ in self.clocks), size):
            for at, (stamps, held) in enumerate(self.clocks):
                cut = slice(start, start + size)
                rows = np.array(sorted(held), dtype=np.intp)
                values = np.array([held[row][cut] for row in rows.tolist()], dtype=np.float64).reshape(len(rows), -1)
                yield LogPart(at, rows, stamps[cut], stamps[cut], values, np.arange(len(stamps[cut])))

    def slow(self, size: int = 1700) -> SlowMotion:
        """The slow copy."""
        copy = SlowCopy(self.channels)
        for part in self.parts(size):
            copy.see(part)
        return copy.end()

    def found(self, make: type[Finder], size: int = 1700) -> list[Finding]:
        """What one finder finds."""
        finder = make(self.channels)  # type: ignore[call-arg]
        for part in self.parts(size):
            finder.see(part)
        return finder.end(self.slow(size))


def driving(seconds: float = 20.0, seed: int = 1) -> tuple[Array, dict[str, Array]]:
    """Stamps and noise that moves as channels of a moving vehicle do, at 10 m/s."""
    random = np.random.default_rng(seed)
    time = clock(seconds)

    def noise(size: float, count: int) -> Array:
        steps = random.normal(0.0, 1.0, (count, len(time)))
        return size * np.apply_along_axis(lambda row: np.convolve(row, np.ones(10) / 10**0.5, mode="same"), 1, steps)

    signals = {
        "shaft_travel": 0.1 + noise(0.01, 4), "specific_force_z": 9.81 + noise(2.0, 1)[0], "specific_force_x": noise(0.5, 1)[0],
        "specific_force_y": noise(0.5, 1)[0], "roll_rate": noise(0.1, 1)[0], "pitch_rate": noise(0.1, 1)[0], "yaw_rate": noise(0.05, 1)[0],
        "wheel_speed": 10.0 + noise(0.05, 4),
    }  # fmt: skip
    return time, signals


def demo_log(name: str = "quarry_loop_dash") -> Log:
    """A shipped demo log (simulated, invented)."""
    shipped = shipped_calibrations()
    return open_log(shipped / "logs" / f"{name}.csv", read_channel_map(shipped / "channel_maps" / "marram_logger.toml"))


@functools.cache
def demo_motion(name: str = "quarry_loop_dash") -> SlowMotion:
    """Its slow copy, read once."""
    log = demo_log(name)
    copy = SlowCopy(channels_of(log))
    for part in log.parts(needed=()):
        copy.see(part)
    return copy.end()


def altered(motion: SlowMotion, changes: Mapping[int, Array]) -> SlowMotion:
    """A slow copy with some rows replaced."""
    copy = motion.copy.copy()
    for row, values in changes.items():
        copy[motion.place[row]] = values
    return SlowMotion(motion.channels, motion.place, copy)


def row(name: str, corner: int = 0) -> int:
    """Row of the controller's layout."""
    return int(CONTROLLER_LAYOUT.rows[name].start) + corner


def of_kind(findings: Sequence[Finding], kind: str) -> list[Finding]:
    """Findings of a kind."""
    return [found for found in findings if found.kind == kind]


def map_file(folder: Path, text: str) -> Path:
    """A channel map in a file."""
    path = folder / "map.toml"
    path.write_text(text, encoding="utf-8")
    return path
