"""A state machine of one's own, compiled, tick by tick."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dualduty.kernels import scan_kernel
from dualduty.lookup import full
from dualduty.memory import Memory, coefficient_tables

Array = NDArray[np.float64]


def machine(step: Callable[..., None]) -> Callable[..., None]:
    """Compile `step(x, p, s, out)` for `scan`; use as a decorator at module level."""
    return scan_kernel(step)


def scan(
    step: Callable[..., None], inputs: tuple[Array, ...], values: tuple[Any, ...], memory: Memory, *, states: int, outputs: int = 1
) -> tuple[Array, ...]:
    """Run a state machine over a chunk; its state starts at zero.

    step : function decorated with `machine`
        `step(x, p, s, out)`: the inputs, parameter values and state of one corner, tick and case; changes `s`, fills `out`.
    inputs : (corner, time, case) arrays
        [any]
    values : floats or (corner, 1, case) arrays
        Parameter values; `p` holds them in order, then the step between ticks in seconds.
    states, outputs : int
        Number of state values and of outputs.

    Returns
    -------
    tuple of (corner, time, case) arrays, one per output.
    """
    table, corners, cases = memory.derived(lambda: coefficient_tables((*values, memory.dt), inputs))
    shape = (corners, inputs[0].shape[1], cases)
    stacked = np.stack([full(x, shape) for x in inputs])
    state = np.zeros((states, corners, cases)) if memory.state is None else memory.state.copy()
    out = np.empty((outputs, *shape))
    step(stacked, table, state, out)
    memory.state = state
    return tuple(out)
