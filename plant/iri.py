"""International Roughness Index of a profile: how far a reference quarter car's suspension works per distance driven."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import expm

from dualduty.kernels import F8, IN1, IN2, OUT1, kernel

Array = NDArray[np.float64]

# Sayers, Gillespie & Paterson, World Bank Technical Paper 46, 1986: the reference quarter car, per sprung mass
TYRE_RATE: Final = 653.0  # 1/s²
SPRING_RATE: Final = 63.3  # 1/s²
UNSPRUNG_SHARE: Final = 0.15  # 1
DAMPING: Final = 6.0  # 1/s
SPEED: Final = 80.0 / 3.6  # m/s
BASE_LENGTH: Final = 0.25  # m, moving average of the profile, which stands for the tyre
START_LENGTH: Final = 0.5 * SPEED  # m; the first slope is taken over half a second


def quarter_car() -> tuple[Array, Array]:
    """Reference quarter car (A, B): states are the slopes of body and wheel and their rates, input is the slope of the ground."""
    k, c, m = SPRING_RATE, DAMPING, UNSPRUNG_SHARE
    a = np.array([[0, 1, 0, 0], [-k, -c, k, c], [0, 0, 0, 1], [k / m, c / m, -(TYRE_RATE + k) / m, -c / m]])
    return a, np.array([0, 0, 0, TYRE_RATE / m])


def state_transition(step: float) -> tuple[Array, Array]:
    """Exact step of the quarter car over one sample of the profile: the matrices ST (4, 4) and PR (4,) of the 1986 definition."""
    a, b = quarter_car()
    st = expm(a * step / SPEED)
    return st, np.asarray(np.linalg.solve(a, (st - np.eye(4)) @ b), np.float64)


@kernel(IN1, IN2, IN1, F8, OUT1)
def _suspension_slope(slope: Array, st: Array, pr: Array, first: float, out: Array) -> None:
    x = np.array([first, 0.0, first, 0.0])
    then = np.empty(4)
    for sample in range(slope.shape[0]):
        for row in range(4):
            then[row] = st[row, 0] * x[0] + st[row, 1] * x[1] + st[row, 2] * x[2] + st[row, 3] * x[3] + pr[row] * slope[sample]
        x[:] = then
        out[sample] = x[0] - x[2]


def suspension_slope(height: Array, step: float, base_length: float = BASE_LENGTH) -> Array:
    """Suspension travel per distance of the reference quarter car along a profile.

    height : (n,) array
        Profile on a uniform grid, longer than 11.2 m. [m]
    step : float
        Grid step. [m]
    base_length : float
        Length of the moving average, where it is longer than a step; 0 for none. [m]

    Returns
    -------
    (n - k,) array
        k is the moving average in samples, at least 1. [1]
    """
    start = round(START_LENGTH / step)
    if height.ndim != 1 or len(height) <= start + 1:
        raise ValueError(f"height is {height.shape}; expected (n,) with n * {step:g} m above {START_LENGTH:.1f} m")
    k = max(1, round(base_length / step))
    slope = (height[k:] - height[:-k]) / (k * step)  # difference over k steps: slope of the moving average
    first = float((height[start] - height[0]) / (start * step))
    st, pr = state_transition(step)
    out = np.empty(len(slope))
    _suspension_slope(np.ascontiguousarray(slope), np.ascontiguousarray(st), pr, first, out)
    return out


def roughness_index(height: Array, step: float, base_length: float = BASE_LENGTH) -> float:
    """IRI of a profile; arguments as `suspension_slope`. [1], of which 0.001 is said as 1 mm/m."""
    return float(np.mean(np.abs(suspension_slope(height, step, base_length))))


def slope_gain(wavelength: Array, base_length: float = 0.0) -> Array:
    """Suspension slope over ground slope for sine profiles, closed form.

    wavelength : (n,) array
        [m]
    base_length : float
        Length of the moving average, 0 for none. [m]
    """
    a, b = quarter_car()
    s = 2j * np.pi * SPEED / wavelength
    state = np.linalg.solve(s[:, None, None] * np.eye(4) - a, np.broadcast_to(b, (len(wavelength), 4))[..., None])[..., 0]
    return np.abs(state[:, 0] - state[:, 2]) * np.abs(np.sinc(base_length / wavelength))
