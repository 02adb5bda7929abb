"""The impact channel class against SAE J211-1 and against an independent forward-backward filter."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import butter, filtfilt

from dualduty.scoring.channel_class import lowest_rate, one_pass, overlap
from dualduty.scoring.reading import Reading
from dualduty.scoring.stages import TwoPass

Array = NDArray[np.float64]

# class, rate [Hz], b0, a1, a2: the recursion of SAE J211-1, appendix C, worked out to ten digits
COEFFICIENTS = [
    (60, 600, 0.2192314172, -0.311896545, 0.1888222139),
    (60, 1000, 0.09718462528, -0.9455740091, 0.3343125102),
    (60, 2000, 0.02980607204, -1.455728214, 0.5749525021),
    (60, 10000, 0.001452367474, -1.889343224, 0.8951526941),
    (180, 1800, 0.2192314172, -0.311896545, 0.1888222139),
    (600, 20000, 0.02980607204, -1.455728214, 0.5749525021),
    (1000, 20000, 0.07189309707, -1.111586176, 0.3991585644),
]
# class, rate, two-pass gain [dB] at CFC and at 5/3 CFC, and where it is down by 3.0103 dB [Hz]
TWO_PASS = [
    (60, 600, -0.27900, -2.44700, 105.06241),
    (60, 1000, -0.38687, -2.81875, 101.82407),
    (60, 10000, -0.45350, -3.00848, 100.01784),
    (1000, 20000, -0.40697, -2.87862, 1687.77048),
]


@pytest.mark.validates("SAE J211-1, appendix C, recursion coefficients")
@pytest.mark.parametrize(("channel_class", "rate", "b0", "a1", "a2"), COEFFICIENTS)
def test_coefficients(channel_class: float, rate: float, b0: float, a1: float, a2: float) -> None:
    # rtol: ten printed digits; measured 3e-10
    np.testing.assert_allclose(one_pass(channel_class, 1 / rate)[0], [b0, 2 * b0, b0, 1.0, a1, a2], rtol=2e-9)


@pytest.mark.validates("Butterworth of second order with its corner at 2.0775 CFC, scipy.signal.butter")
@pytest.mark.parametrize(("channel_class", "rate"), [(60, 600), (60, 1000), (180, 10_000), (1000, 20_000)])
def test_each_pass_is_a_butterworth(channel_class: float, rate: float) -> None:
    top, bottom = butter(2, 2.0775 * channel_class, fs=rate)
    # rtol: measured 4e-16
    np.testing.assert_allclose(one_pass(channel_class, 1 / rate)[0], [*top, *bottom], rtol=1e-14)


@pytest.mark.validates("SAE J211-1, appendix C, two passes; the -3 dB point tends to 2.0775 (sqrt 2 - 1)**(1/4) CFC")
@pytest.mark.parametrize(("channel_class", "rate", "at_class", "at_five_thirds", "three_down"), TWO_PASS)
def test_gain_of_both_passes(channel_class: float, rate: float, at_class: float, at_five_thirds: float, three_down: float) -> None:
    section = one_pass(channel_class, 1 / rate)[0]
    wanted = ((channel_class, at_class), (channel_class * 5 / 3, at_five_thirds), (three_down, -3.0103), (2.0775 * channel_class, -6.0206))
    for hz, gain in wanted:
        back = np.exp(-2j * np.pi * hz / rate)
        # both passes: magnitude squared; atol: five printed digits
        got = 20 * np.log10(abs(np.polyval(section[2::-1], back) / np.polyval(section[:2:-1], back)) ** 2)
        assert got == pytest.approx(gain, abs=2e-5)


def _reading(values: Array, dt: float) -> Reading:
    return Reading(values, np.ones_like(values), dt)


def _through(values: Array, dt: float, edges: list[int]) -> Array:
    stage = TwoPass(60.0)
    readings = [stage.push(_reading(np.ascontiguousarray(part), dt)) for part in np.split(values, edges, axis=1)]
    rest = stage.end()
    assert rest is not None
    kept = [reading.values[:, reading.counts[0, :, 0] > 0] for reading in (*readings, rest)]
    return np.concatenate(kept, axis=1)


def _whole(values: Array, rate: float) -> Array:
    """Forward and backward by scipy, at rest before, last value held after."""
    room = 500
    padded = np.concatenate([np.zeros_like(values[:, :room]), values, np.repeat(values[:, -1:], room, axis=1)], axis=1)
    top, bottom = butter(2, 2.0775 * 60, fs=rate)
    return np.asarray(filtfilt(top, bottom, padded, axis=1, padlen=0)[:, room : room + values.shape[1]])


@pytest.mark.validates("scipy.signal.filtfilt over the whole run")
@pytest.mark.parametrize("edges", [[], [1], [3, 700, 701], list(range(1, 1200)), [240, 241, 480]])
def test_chunked_is_the_whole_run_filtered(edges: list[int]) -> None:
    values = np.random.default_rng(1).normal(0, 50, (1, 1200, 2))
    # atol: the backward pass forgets its start to 2e-16; measured 4e-14 for peaks of 85 m/s2
    np.testing.assert_allclose(_through(values, 1e-3, edges), _whole(values, 1000), atol=1e-12)


@pytest.mark.validates("planted fault: without overlap the backward pass starts anew at each edge")
def test_overlap_is_needed(monkeypatch: pytest.MonkeyPatch) -> None:
    values = np.random.default_rng(1).normal(0, 50, (1, 1200, 2))
    monkeypatch.setattr("dualduty.scoring.channel_class.overlap", lambda *_: 5)
    assert np.abs(_through(values, 1e-3, list(range(10, 1200, 10))) - _whole(values, 1000)).max() > 0.1


@pytest.mark.validates("closed form: 36 exponents of e at the decay rate 2 pi 2.0775 CFC / sqrt 2")
def test_overlap_is_66_ms_for_class_60() -> None:
    assert overlap(60, 1e-3) == 66
    assert lowest_rate(60) == 600
