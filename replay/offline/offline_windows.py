"""A long log as scenes one after another, each with a margin at both ends, so that memory doesn't grow with its length."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.car import Car
from dualduty.errors import BadInput
from replay.log import Log
from replay.offline.offline_scene import READ, Scene
from replay.raw_signals import RawSignal

Array = NDArray[np.float64]
Row = tuple[str, int]

LENGTH: Final = 600.0  # s of a window without its margins
MARGIN: Final = 30.0  # s; no state looks further to either side: one cut by a margin's end is whole in the next window


@dataclass(frozen=True)
class Window:
    """A scene, and the part of it that counts: from `start` up to `end`, seconds since the log's first stamp."""

    scene: Scene
    start: float
    end: float


def windows(log: Log, car: Car | None = None, length: float = LENGTH, margin: float = MARGIN) -> Iterator[Window]:
    """All of a log, window by window; BadInput where it has none of the signals that tell a state."""
    wanted: dict[int, Row] = {
        row: (name, row - rows.start) for name, rows in log.layout.rows.items() if name in READ for row in range(rows.start, rows.stop)
    }
    corners = {signal.name: signal.corners for signal in log.layout.signals}
    whole = {name for name in READ if log.has(name)}
    if not whole:
        raise BadInput(log.name, f"has none of the signals that tell a state: {', '.join(READ)}")
    reached = {stream.index: -np.inf for stream in log.streams if any(wanted.get(int(row), ("", 0))[0] in whole for row in stream.rows)}
    held: dict[Row, list[RawSignal]] = {}
    start = 0.0
    for part in log.parts(()):
        if part.stream not in reached:
            continue
        latency = log.streams[part.stream].latency
        reached[part.stream] = np.inf if part.ended else float(part.time[-1])
        for at, row in enumerate(part.rows.tolist()):
            if wanted.get(row, ("", 0))[0] in whole and len(part.time):
                held.setdefault(wanted[row], []).append(RawSignal(part.time - latency, part.values[at]))
        while start + length + margin <= min(reached.values()) < np.inf:
            yield Window(_scene(held, corners, car, start + length + margin), start, start + length)
            start += length
            _drop(held, start - margin)
    if held:
        yield Window(_scene(held, corners, car, np.inf), start, np.inf)


def _scene(held: dict[Row, list[RawSignal]], corners: dict[str, int], car: Car | None, until: float) -> Scene:
    joined = {row: _joined(pieces) for row, pieces in held.items()}
    names = list(dict.fromkeys(name for name, _ in joined))
    found = {name: [_until(joined[name, corner], until) for corner in range(corners[name])] for name in names}
    return Scene.of_rows(found, car)


def _joined(pieces: list[RawSignal]) -> RawSignal:
    return RawSignal(np.concatenate([one.time for one in pieces]), np.concatenate([one.values for one in pieces]))


def _until(row: RawSignal, end: float) -> RawSignal:
    stop = int(np.searchsorted(row.time, end))
    return RawSignal(row.time[:stop], row.values[:stop])


def _drop(held: dict[Row, list[RawSignal]], before: float) -> None:
    """Let go of what no later window needs."""
    for row, pieces in held.items():
        joined = _joined(pieces)
        first = int(np.searchsorted(joined.time, before))
        held[row] = [RawSignal(joined.time[first:].copy(), joined.values[first:].copy())]
