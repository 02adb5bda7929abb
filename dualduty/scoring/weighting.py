"""Frequency weighting of vibration for people, as analogue response and as a digital filter that carries its state.

References
----------
ISO 2631-1:1997, annex A: transfer functions and their constants (as reprinted in ISO 8041 table 3 and read from three
public sources that agree).
"""

from __future__ import annotations

import functools
from dataclasses import dataclass
from math import inf, isfinite, pi, sqrt
from typing import Final

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Polynomial = tuple[float, float, float]  # coefficients of s², s, 1
Section = tuple[Polynomial, Polynomial]  # numerator, denominator


@dataclass(frozen=True)
class Weighting:
    """Constants of one weighting: corner frequencies f1..f6 [Hz] and quality factors, as the standard numbers them."""

    f1: float
    f2: float
    f3: float
    f4: float
    q4: float
    f5: float = inf
    q5: float = 1.0
    f6: float = inf
    q6: float = 1.0

    def sections(self) -> tuple[Section, ...]:
        """Band-limiting high-pass and low-pass, transition, and upward step; each of second order at most."""
        w1, w2, w3, w4 = (2 * pi * f for f in (self.f1, self.f2, self.f3, self.f4))
        found: list[Section] = [
            ((1.0, 0.0, 0.0), (1.0, sqrt(2) * w1, w1**2)),
            ((0.0, 0.0, w2**2), (1.0, sqrt(2) * w2, w2**2)),
            ((0.0, 1 / w3, 1.0), (1 / w4**2, 1 / (self.q4 * w4), 1.0)),
        ]
        if isfinite(self.f5):
            w5, w6 = 2 * pi * self.f5, 2 * pi * self.f6
            share = (w5 / w6) ** 2
            found.append(((share / w5**2, share / (self.q5 * w5), share), (1 / w6**2, 1 / (self.q6 * w6), 1.0)))
        return tuple(found)


WK: Final = Weighting(0.4, 100.0, 12.5, 12.5, 0.63, 2.37, 0.91, 3.35, 0.91)  # vertical, seat
WD: Final = Weighting(0.4, 100.0, 2.0, 2.0, 0.63)  # horizontal, seat

FELT: Final = "the smallest difference felt in vertical vibration is 5.2 to 6.5 % (Industrial Health 40, 2002, 313-319)"
LOWEST_RATE: Final = 200.0  # Hz; the digital Wk is then 0.3 dB low at 20 Hz, 1.4 dB at 40 Hz


def analogue_gain(weighting: Weighting, hz: Array) -> Array:
    """Magnitude of the weighting at `hz`, `(n,)` array."""
    s = 2j * pi * np.asarray(hz)
    gain = np.ones_like(s)
    for numerator, denominator in weighting.sections():
        gain = gain * np.polyval(numerator, s) / np.polyval(denominator, s)
    return np.asarray(np.abs(gain))


@functools.lru_cache(maxsize=16)
def _digital(weighting: Weighting, dt: float) -> Array:
    return np.array([_bilinear(section, dt) for section in weighting.sections()])


def digital_sections(weighting: Weighting, dt: float) -> Array:
    """Second-order sections `(section, 6)` at step `dt` [s], by the bilinear transform, section by section, not prewarped."""
    return _digital(weighting, dt).copy()


def _bilinear(section: Section, dt: float) -> Array:
    rate = 2.0 / dt
    mapped = [
        np.array([a * rate**2 + b * rate + c, 2 * (c - a * rate**2), a * rate**2 - b * rate + c]) for a, b, c in section
    ]  # s = rate (1 - 1/z) / (1 + 1/z), both sides times (1 + 1/z)²
    return np.asarray(np.concatenate(mapped) / mapped[1][0])


def digital_gain(weighting: Weighting, dt: float, hz: Array) -> Array:
    """Magnitude of the digital filter at `hz`, `(n,)` array."""
    back = np.exp(-2j * pi * np.asarray(hz) * dt)
    gain = np.ones_like(back)
    for b0, b1, b2, _, a1, a2 in digital_sections(weighting, dt):
        gain = gain * (b0 + b1 * back + b2 * back**2) / (1.0 + a1 * back + a2 * back**2)
    return np.asarray(np.abs(gain))


def error_db(weighting: Weighting, dt: float, hz: float) -> float:
    """What the digital filter reads too much (positive) or too little at `hz`. [dB]"""
    at = np.array([hz])
    return float(20 * np.log10(digital_gain(weighting, dt, at) / analogue_gain(weighting, at))[0])
