"""A trace with states where a test says so, and nothing else."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from dualduty.trace import Case, Header, Trace, TraceChunk

DT = 0.01
Active = dict[str, dict[int, list[tuple[float, float]]]]  # state -> row -> intervals


def trace_of(active: Active, seconds: float = 60.0, chunk: int = 1000, corners: dict[str, int] | None = None) -> Trace:
    """States active in the given intervals [s]; rows per state from `corners`, 1 otherwise."""
    corners = corners or {}
    ticks = round(seconds / DT)
    states = {name: np.zeros((corners.get(name, 1), ticks, 1)) for name in active}
    for name, rows in active.items():
        for row, intervals in rows.items():
            for start, end in intervals:
                states[name][row, round(start / DT) : round(end / DT)] = 1.0
    header = Header("replayed", DT, (Case("made up", "", "dash"),), ("dash",), ("base",), tuple(active))
    chunks = [_chunk(states, a, min(a + chunk, ticks)) for a in range(0, ticks, chunk)]
    return Trace.held(header, chunks)


def _chunk(states: dict[str, NDArray[np.float64]], start: int, end: int) -> TraceChunk:
    cut = {name: value[:, start:end] for name, value in states.items()}
    size = (1, end - start, 1)
    return TraceChunk(start, {}, {}, {}, cut, cut, {}, {}, {}, {}, np.zeros(size, dtype=np.int16), np.ones(size))
