"""The band-pass cell against its closed forms: gain at the centre and at the edges, and the width of the noise it passes."""

from __future__ import annotations

import numpy as np
import pytest

from dualduty.band_cell import band, band_of, noise_width

DT = 0.002


def response(low: float, high: float) -> tuple[np.ndarray, np.ndarray]:
    """Frequencies and gain of two sections in a row, from their impulse response."""
    warp, width = (float(value) for value in band_of(low, high, DT))
    first, second = np.zeros(2), np.zeros(2)
    impulse = np.zeros(1 << 14)
    impulse[0] = 1.0
    answer = [band(second, 0, band(first, 0, x, warp, width), warp, width) for x in impulse]
    return np.fft.rfftfreq(impulse.size, DT), np.abs(np.fft.rfft(answer))


@pytest.mark.validates("closed form: 1/(1 + x^2) per section, x = Q (f/f0 - f0/f); noise width pi/4 of f0/Q for two sections")
@pytest.mark.parametrize(("low", "high"), [(3.0, 8.0), (0.8, 3.2), (8.0, 20.0)])
def test_the_band_is_what_it_is_said_to_be(low: float, high: float) -> None:
    hz, gain = response(low, high)
    assert np.interp(np.sqrt(low * high), hz, gain) == pytest.approx(1.0, abs=1e-4)  # between two points of the transform
    # the trapezoidal rule bends frequencies off the centre by (pi f dt)^2/3: 0.5 % at 20 Hz
    for edge in (low, high):
        assert np.interp(edge, hz, gain) == pytest.approx(np.sqrt(0.5), rel=0.015)
    passed = np.sum(gain**2) * hz[1]
    # that bend takes 0.1 % of the lower bands and 1.5 % of the hop band
    assert passed == pytest.approx(float(noise_width(low, high)), rel=0.02)
