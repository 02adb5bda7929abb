"""Where a chunk is cut: parameters are constant within a piece, and its board stays near the processor."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def piece_cuts(mode: NDArray[np.int16], longest: int) -> list[int]:
    """Ends of pieces: at every change of a drive mode, and at least every `longest` ticks; begins with 0.

    mode : (1, time, case) int16 array
        Drive-mode index.
    """
    changes = np.flatnonzero((mode[0, 1:] != mode[0, :-1]).any(axis=1)) + 1
    return sorted({int(change) for change in changes} | {*range(0, mode.shape[1], longest), mode.shape[1]})
