"""How a comparison becomes a verdict: at once with hysteresis, or after it has lasted."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.kernels import inline
from strategies.channel_checks import TIMER

Array = NDArray[np.float64]

BACK: Final = 0.6  # a comparison that failed is good again below this share of its limit


@inline
def latch(apart: Array, row: int, ratio: float) -> None:
    """Apart once a ratio to its limit reaches 1, until it is well below."""
    if ratio >= 1.0:
        apart[row] = 1.0
    elif ratio < BACK:
        apart[row] = 0.0


@inline
def keep_time(state: Array, apart: Array, row: int, far: bool, looks: float) -> None:
    """Apart after so many looks at which it was far more than at which it wasn't, until all are undone."""
    level = min(max(state[TIMER, row] + (1.0 if far else -1.0), 0.0), looks)
    state[TIMER, row] = level
    if level >= looks:
        apart[row] = 1.0
    elif level == 0.0:
        apart[row] = 0.0
