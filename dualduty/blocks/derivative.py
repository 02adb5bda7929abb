"""Rate of change through a first-order filter."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from dualduty import cells
from dualduty.kernels import IN3, OUT3, kernel
from dualduty.memory import Memory

Array = NDArray[np.float64]


@kernel(IN3, IN3, OUT3, OUT3)
def _derivative_kernel(x: Array, table: Array, state: Array, out: Array) -> None:
    for corner in range(x.shape[0]):
        for tick in range(x.shape[1]):
            for case in range(x.shape[2]):
                out[corner, tick, case] = cells.derivative(
                    state[:, corner, case], 0, x[corner, tick, case], table[0, corner, case], table[1, corner, case]
                )


def derivative(quantity: Array, corner_hz: float | Array, memory: Memory) -> Array:
    """Rate of change of `quantity`, smoothed by a first-order lag; zero at the first sample.

    quantity : (corner, time, case) array
        What to differentiate. [any]
    corner_hz : float or (corner, 1, case) array
        Corner frequency of the smoothing, -3 dB. [Hz]

    Notes
    -----
    The output is (what the lag moved in a tick) / dt: a ramp of slope r settles to exactly r.
    """
    return memory.advance(_derivative_kernel, (quantity,), lambda: (cells.share(corner_hz, memory.dt), memory.dt), 2)
