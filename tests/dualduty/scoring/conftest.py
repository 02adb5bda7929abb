"""A stand-in vehicle, and runs made of whatever a test puts into them."""

from __future__ import annotations

from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from dualduty.trace import Case, Header, Trace, TraceChunk

Array = NDArray[np.float64]
DT = 1e-3
BY_FIELD = ("signals", "valid", "duty", "truth")


@pytest.fixture
def car() -> Any:
    """Nominal numbers that the measures read; SI, by corner."""
    return SimpleNamespace(
        motion_ratio=np.full(4, 0.6),
        static_travel=np.full(4, 0.1),
        half_track=np.array([0.75, 0.75, 0.7, 0.7]),
        stroke=np.full(4, 0.25),
        bump_contact=np.full(4, 0.2),
        hard_stop=np.full(4, 0.24),
        static_wheel_load=np.array([3000.0, 3000.0, 3200.0, 3200.0]),
    )


def cut(whole: TraceChunk, edges: list[int]) -> list[TraceChunk]:
    """A chunk cut at tick numbers."""
    fine = {name: values.shape[1] // whole.ticks for name, values in whole.truth.items()}
    pieces = []
    for start, stop in zip([0, *edges], [*edges, whole.ticks], strict=True):
        parts: dict[str, Any] = {
            field: {name: values[:, start:stop] for name, values in getattr(whole, field).items()} for field in ("signals", "valid", "duty")
        }
        parts["truth"] = {name: values[:, start * fine[name] : stop * fine[name]] for name, values in whole.truth.items()}
        pieces.append(_chunk(whole.running[:, start:stop], start, parts))
    return pieces


def _chunk(running: Array, start: int, parts: dict[str, Any]) -> TraceChunk:
    empty: dict[str, Any] = {name: {} for name in ("quantities", "states", "strengths", "asked", "layer", "flags")}
    mode = np.zeros(running.shape, dtype=np.int16)
    return TraceChunk(start=start, mode=mode, running=running, **empty, **{field: parts.get(field, {}) for field in BY_FIELD})


@pytest.fixture
def make_run() -> Callable[..., Trace]:
    """Make a trace from `signals`, `valid`, `duty` and `truth`, each a dict of (corner, time, case) arrays."""

    def make(
        running: Array | None = None,
        edges: list[int] | None = None,
        cases: tuple[Case, ...] | None = None,
        header: Any = None,
        **parts: Any,
    ) -> Trace:
        first = next(iter(next(values for values in parts.values() if values).values()))
        described = {"source": "simulated", "dt": DT, "truth_dt": DT if parts.get("truth") else 0.0} | (header or {})
        fine = first is next(iter(parts.get("truth", {}).values()), None)
        ticks = round(first.shape[1] * (described["truth_dt"] / described["dt"] if fine else 1.0))
        running = np.ones((1, ticks, first.shape[2])) if running is None else running
        cases = cases or tuple(Case("quarry_floor", "base", "dash", seed=seed) for seed in range(first.shape[2]))
        whole = _chunk(running, 0, parts)
        return Trace.held(Header(cases=cases, modes=("dash",), layers=(), states=(), **described), cut(whole, edges or []))

    return make


@pytest.fixture
def lively() -> dict[str, dict[str, Array]]:
    """Two seconds of everything the measures read, three different cases, all of it moving."""
    random = np.random.default_rng(7)
    shape = (2000, 3)

    def smooth(corners: int, size: float) -> Array:
        steps = random.standard_normal((corners, *shape)).cumsum(axis=1)
        return np.asarray(size * (steps - steps.mean(axis=1, keepdims=True)) / steps.std(axis=1, keepdims=True))

    travel = 0.14 + smooth(4, 0.04)
    return {
        "truth": {
            "seat_acceleration_z": random.normal(0.0, 5.0, (1, *shape)), "wheel_load": np.maximum(3000 + smooth(4, 1800), 0.0),
            "stop_force": smooth(4, 900), "true_travel": travel, "roll": smooth(1, 0.05), "pitch": smooth(1, 0.05),
            "beyond_map": (np.abs(smooth(4, 1.0)) > 1.5) * 1.0, "oil_temperature": 45.0 + smooth(4, 2.0),
        },
        "signals": {"roll_rate": smooth(1, 0.2), "shaft_travel": travel + 1e-3},
        "duty": {"compression": np.clip(0.4 + smooth(4, 0.2), 0, 1), "rebound": np.clip(0.5 + smooth(4, 0.2), 0, 1)},
    }  # fmt: skip
