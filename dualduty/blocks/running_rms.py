"""Root mean square over the recent past."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from dualduty.blocks.low_pass import low_pass
from dualduty.memory import Memory

Array = NDArray[np.float64]


def running_rms(quantity: Array, time: float | Array, memory: Memory) -> Array:
    """Running r.m.s. with exponential weighting; starts settled on the first sample.

    quantity : (corner, time, case) array
        [any]
    time : float or (corner, 1, case) array
        Integration time constant. [s]

    References
    ----------
    ISO 2631-1:1997, 6.3.1, exponential form of the running r.m.s.
    """
    mean_square = low_pass(quantity * quantity, 1.0 / (2 * np.pi * np.asarray(time, float)), memory)
    return np.sqrt(mean_square)
