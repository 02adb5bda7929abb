"""Low-pass and rate of change without any lag, since the whole run is known."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline
from scipy.signal import butter, sosfiltfilt

from dualduty.fit.runs import RATE

Array = NDArray[np.float64]


def smoothed(rows: Array, hertz: float) -> Array:
    """(row, time) rows through a fourth-order Butterworth low-pass forth and back: no phase, -6 dB at `hertz`."""
    sections = butter(4, hertz, fs=RATE, output="sos")
    return np.asarray(sosfiltfilt(sections, rows, axis=-1), float)


def rate_of(rows: Array) -> Array:
    """Rate of change of smooth (row, time) rows by a cubic spline. [1/s]"""
    return np.asarray(CubicSpline(np.arange(rows.shape[-1]) / RATE, rows, axis=-1)(np.arange(rows.shape[-1]) / RATE, 1), float)


def earlier(rows: Array, seconds: float) -> Array:
    """Smooth rows as they were that much later: takes a sensor's delay out."""
    time = np.arange(rows.shape[-1]) / RATE
    return np.asarray(CubicSpline(time, rows, axis=-1)(np.minimum(time + seconds, time[-1])), float)
