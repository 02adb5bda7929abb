"""A band-pass of second order as a cell for plug-ins in tick form, and what to prepare for it."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.cells import cell

Array = NDArray[np.float64]

TWICE: Final = float(np.sqrt(np.sqrt(2.0) - 1.0))  # -3 dB width of two equal sections in a row, over that of one


@cell(rows=2)
def band(s: Array, at: int, x: float, warp: float, width: float) -> float:
    """One section, 1 at its centre; twice in a row makes the band that `band_of` describes.

    Notes
    -----
    State-variable filter by the trapezoidal rule: an analogue filter whose frequencies are bent so that the centre is exact, and
    which stays itself at any rate of ticks.
    """
    inner = (s[at] + warp * (x - s[at + 1])) / (1.0 + warp * (warp + width))
    outer = s[at + 1] + warp * inner
    s[at] = 2.0 * inner - s[at]
    s[at + 1] = 2.0 * outer - s[at + 1]
    return float(width * inner)


def band_of(low: Any, high: Any, dt: float) -> tuple[Any, Any]:
    """(warp, width) for two sections in a row that pass from `low` to `high` [Hz] at -3 dB."""
    low, high = np.asarray(low), np.asarray(high)
    centre = np.sqrt(low * high)
    return np.tan(np.pi * np.minimum(centre * dt, 0.45)), (high - low) / (TWICE * centre)


def noise_width(low: Any, high: Any) -> Any:
    """Width of an ideal band that passes as much of an even spectrum as two sections from `low` to `high` do. [Hz]

    Notes
    -----
    The power of one section, 1/(1 + x^2) with x = Q (f/f0 - f0/f), integrates over f to f0/Q times pi/2, of two in a row to pi/4 of it.
    """
    return 0.25 * np.pi * (np.asarray(high) - np.asarray(low)) / TWICE
