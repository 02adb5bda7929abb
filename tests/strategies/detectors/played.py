"""One plug-in over hand-made inputs: numbers, numbers by corner or series, on fresh memory."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.contract import Chunk, State
from dualduty.memory import Memory

Array = NDArray[np.float64]
DT: Final = 0.002


def played(plug_in: Any, ticks: int, **inputs: Any) -> dict[str, Array]:
    """Outputs by name, (corner, tick): a state as its active; inputs are a number, four numbers, or (1 or 4, tick) series."""
    chunk = Chunk(DT, {name: _series(value, ticks) for name, value in inputs.items()})
    memory = Memory(DT)
    memory.begin()
    result = plug_in.run(chunk, memory)
    memory.end()
    return {name: (value.active if isinstance(value, State) else value)[:, :, 0] for name, value in result.items()}


def stepped(ticks: int, at: int, before: float, after: float) -> Array:
    """`before`, and from tick `at` on `after`: (1, tick)."""
    return np.where(np.arange(ticks) < at, before, after)[None]


def _series(value: Any, ticks: int) -> Array:
    rows = np.asarray(value, float)
    rows = rows.reshape(-1, 1) if rows.ndim < 2 else rows
    return np.ascontiguousarray(np.broadcast_to(rows, (rows.shape[0], ticks)))[:, :, None]
