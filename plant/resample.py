"""A profile at a grid's points, without its short waves coming back as long ones."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator
from scipy.ndimage import gaussian_filter1d
from scipy.signal import firwin, kaiserord, upfirdn

Array = NDArray[np.float64]

PASSED: Final = 0.4  # waves per grid step, kept as they are
STOPPED: Final = 0.5  # waves per grid step, the most a grid can carry; gone from here on
STOP_DB: Final = 60.0
_FINEST: Final = 200  # points of the fine grid to a grid step


def resampled(distance: Array, height: Array, at: Array) -> Array:
    """Heights at the points of a uniform grid.

    distance, height : (n,) arrays
        Profile at rising distances, evenly spaced or not; held beyond its ends. [m]
    at : (k,) array
        Uniform grid. [m]

    Notes
    -----
    Where the profile has points closer than the grid, it is first laid on a fine grid, at least two points to one of its
    own, by a monotone cubic (which does not overshoot), then low-pass filtered (Kaiser window, no phase) so that waves longer than
    2.5 grid steps stay and waves shorter than 2 are 60 dB down, and only then taken at the grid. A square edge therefore
    swings by up to 9 % of its height beside it (Gibbs), as in every record with a sharp band limit. A profile that is coarser
    than the grid is only interpolated.
    """
    inside = PchipInterpolator(distance, height)
    step = float(at[1] - at[0])
    finer = int(np.clip(np.ceil(2.0 * step / np.median(np.diff(distance))), 1, _FINEST))
    if finer <= 2:  # noqa: PLR2004 - twice the density: no point of the profile lies closer than a grid step
        return np.asarray(inside(np.clip(at, distance[0], distance[-1])), np.float64)
    taps = low_pass(finer)
    reach = len(taps) // 2
    late = -(-2 * reach // finer)  # the first result for which the filter is full, rounded up to a grid point
    fine = at[0] + step / finer * np.arange(reach - late * finer, (len(at) - 1) * finer + reach + 1)
    results = upfirdn(taps, inside(np.clip(fine, distance[0], distance[-1])), down=finer)
    return np.asarray(results[late : late + len(at)], np.float64)


def low_pass(finer: int) -> Array:
    """Symmetric filter on a grid `finer` times finer, of sum 1."""
    count, beta = kaiserord(STOP_DB, 2.0 * (STOPPED - PASSED) / finer)
    return np.asarray(firwin(count | 1, (PASSED + STOPPED) / finer, window=("kaiser", beta)), np.float64)


def without_long_waves(height: Array, step: float, wavelength: float) -> Array:
    """The profile less its Gaussian mean, which passes half of a wave of `wavelength`; ends are held.

    height : (n,) array
        On a uniform grid. [m]
    step, wavelength : float
        [m]

    Notes
    -----
    The profile filter of ISO 16610-21 (formula from memory): mean weights exp(-pi·(x/(a·wavelength))²) with a = sqrt(ln 2/pi), so that
    a sine of length L keeps 1 - 2^-(wavelength/L)².
    """
    spread = np.sqrt(np.log(2.0)) / (np.sqrt(2.0) * np.pi) * wavelength
    return height - gaussian_filter1d(height, spread / step, mode="nearest", truncate=6.0)
