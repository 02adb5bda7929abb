"""A replayed trace with what a vehicle might have logged beside it, exactly as a test says; nothing here was measured."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from dualduty.signals import SIDES
from dualduty.trace import Case, Header, Trace, TraceChunk

DT = 0.002
Array = NDArray[np.float64]


def waves(ticks: int, seconds_later: float = 0.0, drift: float = 0.0) -> Array:
    """Eight duties that move slowly and each in its own way, read later by a time that may grow: (8, ticks)."""
    time = np.arange(ticks) * DT
    time = time - seconds_later - drift * time
    hz = np.array([0.31, 0.43, 0.57, 0.71, 0.37, 0.53, 0.61, 0.79])[:, None]
    return np.asarray(0.5 + 0.2 * np.sin(2 * np.pi * hz * time) + 0.1 * np.sin(2 * np.pi * 1.7 * hz * time + hz))


def trace_of(  # noqa: PLR0913 - one argument per thing that a log may hold
    replayed: Array,
    logged: Array | None,
    *,
    name: str = "logged",
    layer: Array | None = None,
    mode: Array | None = None,
    states: Mapping[str, tuple[Array, Array]] | None = None,
    travel: Array | None = None,
    chunk: int = 3001,
) -> Trace:
    """Replayed and logged duties (8, ticks); `states` by name, logged and replayed (row, ticks); layers are base and landing."""
    ticks = replayed.shape[1]
    pairs = states or {}
    signals = {f"{name}_{side}": logged[4 * row : 4 * row + 4] for row, side in enumerate(SIDES)} if logged is not None else {}
    signals |= {f"logged_{state}": pair[0] for state, pair in pairs.items()}
    signals["shaft_travel"] = np.full((4, ticks), 0.1) if travel is None else travel
    who = np.zeros((8, ticks)) if layer is None else layer
    which = np.zeros(ticks) if mode is None else mode
    header = Header("replayed", DT, (Case("made up", "candidate", "as driven"),), ("patrol", "dash"), ("base", "landing"), tuple(pairs))

    def part(start: int) -> TraceChunk:
        cut = slice(start, min(start + chunk, ticks))

        def of(rows: Array) -> Array:
            return np.ascontiguousarray(rows[:, cut, None])

        sides = {side: slice(4 * row, 4 * row + 4) for row, side in enumerate(SIDES)}
        duty = {side: of(replayed[rows]) for side, rows in sides.items()}
        active = {state: of(pair[1]) for state, pair in pairs.items()}
        size = (1, cut.stop - start, 1)
        return TraceChunk(
            start, {key: of(values) for key, values in signals.items()}, {}, {}, active, active, duty, duty,
            {side: of(who[rows]).astype(np.int16) for side, rows in sides.items()}, {}, of(which[None]).astype(np.int16), np.ones(size),
        )  # fmt: skip

    return Trace.held(header, [part(start) for start in range(0, ticks, chunk)])
