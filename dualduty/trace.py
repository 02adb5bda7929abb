"""What a run leaves behind, the same for simulation and replay: a header and a sequence of chunks.

Scoring, reports and export see only this. Arrays are `(corner, time, case)`; truth has its own, finer clock.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

FLAG_LIMIT: Final = 1  # a command limit moved the duty
FLAG_SLEW: Final = 2  # the slew limit held it back
FLAG_FAULT: Final = 4  # a sensor fault closed a layer here; beneath the base, the fallback came in
FLAG_CLAMP: Final = 8  # a wanted force lay outside the damper map
FLAG_TRIM: Final = 16  # an `add` layer trims on top of the layer that decided
FLAG_HEAT: Final = 32  # a hot damper got less than was asked for
FLAG_LABELS: Final = {
    FLAG_LIMIT: "limit", FLAG_SLEW: "slew", FLAG_FAULT: "fault", FLAG_CLAMP: "map clamp", FLAG_TRIM: "trim", FLAG_HEAT: "heat",
}  # fmt: skip


@dataclass(frozen=True)
class Case:
    """One independent line of computation: what makes it different from its neighbours."""

    section: str
    candidate: str
    mode: str
    seed: int = 0
    vehicle: str = ""

    @property
    def label(self) -> str:
        """Section, drive mode and candidate, for titles."""
        return f"{self.section} · {self.mode} · {self.candidate}"


@dataclass(frozen=True)
class Header:
    """What holds for a whole run.

    `source` is "simulated" or "replayed"; `dt` and `truth_dt` are the controller's and the raw data's steps [s]
    (`truth_dt` 0: no truth); `driven_by` names the calibration that really drove a log; `stamp` says how far the
    plant was compared with a vehicle; `digests` name every input by content.
    """

    source: str
    dt: float
    cases: tuple[Case, ...]
    modes: tuple[str, ...]
    layers: tuple[str, ...]
    states: tuple[str, ...]
    truth_dt: float = 0.0
    driven_by: str = ""
    stamp: str = "not compared"
    digests: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class RawRows:
    """A channel of a log at its own rate, beside what the controller saw of it.

    values : (corner, sample, 1) array
        On an even grid, NaN where nothing was recorded. [SI]
    step : float
        Time between samples. [s]
    ticks : (sample,) int array
        Index of the tick of the chunk at or before each sample, 0 or more.
    """

    values: Array
    step: float
    ticks: NDArray[np.intp]


@dataclass(frozen=True)
class TraceChunk:
    """Some consecutive ticks of a run.

    start : int
        Index of the first tick.
    signals : dict of (corner, time, case) arrays
        Sensor channels as the controller saw them, before intake. [SI]
    valid : dict of (corner, time, case) arrays
        1 where intake believed the channel.
    quantities : dict of (corner, time, case) arrays
        What the estimators made of them. [SI]
    states : dict of (corner, time, case) arrays
        1 where a state was active.
    strengths : dict of (corner, time, case) arrays
        Strength 0..1 beside each state.
    asked, duty : dict with `compression` and `rebound`, (4, time, case) arrays
        Duties before and after the supervisor. [1]
    layer : dict by side, (4, time, case) int16 arrays
        Index into `Header.layers`: who decided.
    flags : dict by side, (4, time, case) uint8 arrays
        Supervisor flags, FLAG_*.
    mode, running : (1, time, case) arrays
        Drive-mode index; 0 where a padded section has ended.
    truth : dict of (corner, fine time, case) arrays
        Plant truth at `Header.truth_dt`; empty for logs.
    raw : dict of RawRows
        Channels that are scored, as recorded; empty for simulations.
    memory : object
        Strategy memory before the first tick of this chunk.
    """

    start: int
    signals: dict[str, Array]
    valid: dict[str, Array]
    quantities: dict[str, Array]
    states: dict[str, Array]
    strengths: dict[str, Array]
    asked: dict[str, Array]
    duty: dict[str, Array]
    layer: dict[str, NDArray[np.int16]]
    flags: dict[str, NDArray[np.uint8]]
    mode: NDArray[np.int16]
    running: Array
    truth: dict[str, Array] = field(default_factory=dict)
    memory: Any = None
    raw: dict[str, RawRows] = field(default_factory=dict)

    @property
    def ticks(self) -> int:
        """Number of controller ticks."""
        return int(self.running.shape[1])


@dataclass(frozen=True)
class Trace:
    """A run: its header, and its chunks in order.

    `open_chunks` gives a fresh iterator at each call, so that a trace can be folded more than once: over chunks held
    in memory, read from a file, or computed anew.
    """

    header: Header
    open_chunks: Callable[[], Iterator[TraceChunk]]

    @classmethod
    def held(cls, header: Header, chunks: list[TraceChunk]) -> Trace:
        """A trace whose chunks are in memory."""
        return cls(header, lambda: iter(chunks))

    def __iter__(self) -> Iterator[TraceChunk]:
        return self.open_chunks()

    def whole(self) -> TraceChunk:
        """All chunks joined into one; for short runs and plots."""
        return join(list(self))


def join(chunks: list[TraceChunk]) -> TraceChunk:
    """One chunk from consecutive ones."""
    if len(chunks) == 1:
        return chunks[0]
    first = chunks[0]

    def joined(name: str) -> Any:
        values = [getattr(chunk, name) for chunk in chunks]
        if isinstance(values[0], dict):
            return {key: np.concatenate([value[key] for value in values], axis=1) for key in values[0]}
        return np.concatenate(values, axis=1)

    names = ("signals", "valid", "quantities", "states", "strengths", "asked", "duty", "layer", "flags", "mode", "running", "truth")
    return TraceChunk(start=first.start, memory=first.memory, raw=_joined_raw(chunks), **{name: joined(name) for name in names})


def _joined_raw(chunks: list[TraceChunk]) -> dict[str, RawRows]:
    first = chunks[0]
    return {
        name: RawRows(
            np.concatenate([chunk.raw[name].values for chunk in chunks], axis=1),
            rows.step,
            np.concatenate([chunk.raw[name].ticks + chunk.start - first.start for chunk in chunks]),
        )
        for name, rows in first.raw.items()
    }
