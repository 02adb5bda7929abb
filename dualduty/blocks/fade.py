"""Open and close gradually: a ramp of stated duration towards a gate."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from dualduty.blocks.slew_limit import slew_kernel
from dualduty.memory import Memory

Array = NDArray[np.float64]


def fade(gate: Array, fade_in: float | Array, fade_out: float | Array, memory: Memory) -> Array:
    """Ramp linearly towards `gate`: from 0 to 1 in `fade_in`, from 1 to 0 in `fade_out`; starts at the first sample.

    gate : (corner, time, case) array
        Target, 0..1. [1]
    fade_in, fade_out : float or (corner, 1, case) array
        Durations; 0 follows at once. [s]
    """

    def coefficients() -> tuple[Array, Array]:
        with np.errstate(divide="ignore"):
            return memory.dt / np.asarray(fade_in, float), memory.dt / np.asarray(fade_out, float)

    return memory.advance(slew_kernel, (gate,), coefficients, 2)
