"""Channel frequency class filter of impact measurement: a second-order low-pass run forward, then backward.

References
----------
SAE J211-1, appendix C: wd = 2 pi CFC 2.0775, Butterworth of second order by the bilinear transform. (ISO 6487 has
25/12 in place of 2.0775.)
"""

from __future__ import annotations

from math import ceil, pi, sqrt, tan
from typing import Final

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_CORNER: Final = 2.0775  # corner of one pass over the channel class
_RATE: Final = 10.0  # lowest sampling rate over the channel class: 600 Hz for CFC 60
_FORGOTTEN: Final = 36.0  # exponents of e after which the backward pass has forgotten where it began: 2e-16


def lowest_rate(channel_class: float) -> float:
    """Lowest sampling rate for a channel class. [Hz]"""
    return _RATE * channel_class


def one_pass(channel_class: float, dt: float) -> Array:
    """Coefficients b0, b1, b2, 1, a1, a2 of a single pass at step `dt` [s]: a `(1, 6)` second-order section."""
    warped = tan(2 * pi * channel_class * _CORNER * dt / 2)
    divisor = 1 + sqrt(2) * warped + warped**2
    b0 = warped**2 / divisor
    a1 = 2 * (warped**2 - 1) / divisor
    a2 = (1 - sqrt(2) * warped + warped**2) / divisor
    return np.array([[b0, 2 * b0, b0, 1.0, a1, a2]])


def overlap(channel_class: float, dt: float) -> int:
    """Samples of the future that the backward pass must see before a sample is right to rounding."""
    decay = 2 * pi * channel_class * _CORNER / sqrt(2)
    return ceil(_FORGOTTEN / (decay * dt))
