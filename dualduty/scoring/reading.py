"""Where a measure's numbers come from: plant truth, sensor channels or duties, and which samples count."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

import numpy as np
from numpy.typing import NDArray

from dualduty.units import STANDARD_GRAVITY

if TYPE_CHECKING:
    from dualduty.trace import Header, TraceChunk

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Channel:
    """One place a quantity may be found; `offset` is added [SI], `note` is told to the reader when it was used."""

    kind: Literal["truth", "raw", "signal", "duty"]
    name: str
    offset: float = 0.0
    note: str = ""


@dataclass(frozen=True)
class Reading:
    """Some consecutive samples of a quantity.

    values : (corner, sample, case) array
        [SI]
    counts : (corner, sample, case) array
        1 where the sample counts: the section is running and the channel is believed.
    dt : float
        Step between samples. [s]
    """

    values: Array
    counts: Array
    dt: float


SEAT: Final = (
    Channel("truth", "seat_acceleration_z"),
    Channel("raw", "seat_specific_force_z", -STANDARD_GRAVITY, "from the seat accelerometer as recorded, less g"),
    Channel("signal", "seat_specific_force_z", -STANDARD_GRAVITY, "from the seat accelerometer, less g"),
    Channel("signal", "specific_force_z", -STANDARD_GRAVITY, "from the body accelerometer, less g: no seat, and tilt is left in"),
)
TRAVEL: Final = (
    Channel("truth", "true_travel"),
    Channel("raw", "shaft_travel", note="from the travel sensors as recorded"),
    Channel("signal", "shaft_travel", note="from the travel sensors"),
)


class Source:
    """Reads the first of several channels that a run has."""

    def __init__(self, header: Header, *channels: Channel) -> None:
        self._header = header
        self._channels = channels
        self._chosen: Channel | None = None

    @property
    def missing(self) -> str:
        """Why there is nothing to read."""
        return f"the run has no {' or '.join(dict.fromkeys(channel.name for channel in self._channels))}"

    @property
    def note(self) -> str:
        """What to tell about the channel that was read."""
        return self._chosen.note if self._chosen else ""

    def read(self, chunk: TraceChunk) -> Reading | None:
        """The samples of a chunk; None when the run has none of the channels."""
        if self._chosen is None:
            self._chosen = self._choose(chunk)
        if self._chosen is None:
            return None
        chosen = self._chosen
        values = np.asarray(_values(chunk, chosen), dtype=np.float64)
        if chosen.kind == "raw":
            return _as_recorded(chunk, chosen, values)
        counts = _running_at(chunk.running, values.shape[1])
        if chosen.kind == "signal":
            counts = counts * np.isfinite(values) * chunk.valid.get(chosen.name, np.ones((1, 1, 1)))
        shape = np.broadcast_shapes(values.shape, counts.shape)
        if chosen.offset:
            values = values + chosen.offset
        return Reading(_spread(values, shape), _spread(counts, shape), self._step(chosen))

    def _choose(self, chunk: TraceChunk) -> Channel | None:
        """The first channel that holds a number; a log may carry a row of NaN for a channel it doesn't have."""
        present = [channel for channel in self._channels if channel.name in _group(chunk, channel) and self._step(channel) > 0]
        filled = [channel for channel in present if np.isfinite(_values(chunk, channel)).any()]
        return next(iter((*filled, *present)), None)

    def _step(self, channel: Channel) -> float:
        """Step of a channel; that of what was recorded stands in each chunk."""
        return self._header.truth_dt if channel.kind == "truth" else self._header.dt


def _as_recorded(chunk: TraceChunk, channel: Channel, values: Array) -> Reading:
    """Samples at their own rate; each counts as the tick in which it came does."""
    raw = chunk.raw[channel.name]
    believed = chunk.valid.get(channel.name, np.ones((1, chunk.ticks, 1)))[:, raw.ticks] * chunk.running[:, raw.ticks]
    counts = np.isfinite(values) * believed
    shape = np.broadcast_shapes(values.shape, counts.shape)
    return Reading(_spread(values + channel.offset, shape), _spread(counts, shape), raw.step)


def _group(chunk: TraceChunk, channel: Channel) -> dict[str, Array]:
    raw = {name: rows.values for name, rows in chunk.raw.items()} if channel.kind == "raw" else {}
    return {"truth": chunk.truth, "raw": raw, "signal": chunk.signals, "duty": chunk.duty}[channel.kind]


def _values(chunk: TraceChunk, channel: Channel) -> Array:
    return _group(chunk, channel)[channel.name]


def _running_at(running: Array, samples: int) -> Array:
    """`running` on a finer clock of `samples` per chunk."""
    ticks = running.shape[1]
    if samples == ticks:
        return np.asarray(running, dtype=np.float64)
    if ticks and samples % ticks == 0:
        return np.repeat(np.asarray(running, dtype=np.float64), samples // ticks, axis=1)
    return np.asarray(running[:, np.arange(samples) * ticks // max(samples, 1)], dtype=np.float64)


def _spread(values: Array, shape: tuple[int, ...]) -> Array:
    return np.ascontiguousarray(np.broadcast_to(values, shape), dtype=np.float64)
