"""Run one detector in tick form over made-up inputs."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.contract import Chunk, State
from dualduty.memory import Memory
from dualduty.signals import SIGNALS

Array = NDArray[np.float64]
DT: Final = 0.002
CALIBRATIONS: Final = Path(__file__).parents[3] / "calibrations"
BY_CORNER: Final = ("shaft_speed", "wheel_off")


def ticks_of(seconds: float) -> int:
    """How many ticks that is."""
    return round(seconds / DT)


def during(time: Array, start: float, end: float, value: float = 1.0) -> Array:
    """`value` from `start` to `end` [s], else 0."""
    return np.where((time > start - 0.5 * DT) & (time < end - 0.5 * DT), value, 0.0)


def times(seconds: float) -> Array:
    """Ticks. [s]"""
    return np.asarray(np.arange(ticks_of(seconds)) * DT, float)


def play(detector: Any, **inputs: Any) -> dict[str, State]:
    """What the detector gives; an input is one number, (time,) or (4, time); what is not said is at rest, 0 for quantities and states."""
    ticks = max(np.shape(value)[-1] for value in inputs.values() if np.ndim(value) > 0)
    values: dict[str, Any] = {}
    for name in {*type(detector).plan.reads, *inputs}:
        signal = SIGNALS.get(name)
        corners = signal.corners if signal is not None else 4 if name in BY_CORNER else 1
        if name.endswith("_valid"):
            corners = SIGNALS[name.removesuffix("_valid")].corners
        rest = signal.rest if signal is not None else 1.0 if name.endswith("_valid") else 0.0
        value = np.atleast_1d(np.asarray(inputs.get(name, rest), float))
        values[name] = np.ascontiguousarray(np.broadcast_to(value, (corners, ticks))[:, :, None])
    memory = Memory(DT)
    memory.begin()
    result: dict[str, State] = detector.run(Chunk(DT, values), memory)
    memory.end()
    return result


def intervals(state: State, corner: int = 0) -> list[tuple[float, float]]:
    """When it was active. [s]"""
    edges = np.flatnonzero(np.diff(np.concatenate([[0.0], state.active[corner, :, 0], [0.0]])))
    return [(float(first) * DT, float(last) * DT) for first, last in zip(edges[::2], edges[1::2], strict=True)]


def watching(states: tuple[str, ...]) -> str:
    """A calibration of the Marram at constant duties that has these states worked out and does nothing with them."""
    named = ", ".join(f'"{name}"' for name in states)
    return f"""
vehicle = "{(CALIBRATIONS / "vehicles" / "marram.toml").as_posix()}"
modes = ["dash"]
[[layers]]
name = "base"
law = "FixedDuty"
[layers.FixedDuty]
compression_pct = 20
rebound_pct = 25
[[layers]]
name = "watching"
law = "FixedDuty"
act = "raise"
when = [{named}]
[layers.FixedDuty]
compression_pct = 0
rebound_pct = 0
"""
