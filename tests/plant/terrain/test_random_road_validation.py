"""Random ground against ISO 8608 and against its stated coherence."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import quad
from scipy.signal import coherence, welch

from plant.terrain.random_road import CLASS_DENSITY, RandomRoad, track_coherence

Array = NDArray[np.float64]

STEP = 0.05


def road(road_class: str, seed: int, length: float = 6000.0) -> tuple[RandomRoad, Array, Array]:
    made = RandomRoad(road_class, length=length)
    return made, *made.heights(STEP * np.arange(round(length / STEP), dtype=np.float64), np.random.default_rng(seed))


@pytest.mark.validates("ISO 8608:1995 table of classes, geometric means at n0 = 0.1 cycles/m (public copies agree)")
def test_class_levels() -> None:
    expected = [16e-6, 64e-6, 256e-6, 1024e-6, 4096e-6, 16384e-6, 65536e-6, 262144e-6]
    # rtol: powers of two times the same decimal number
    np.testing.assert_allclose([CLASS_DENSITY[letter] for letter in "ABCDEFGH"], expected, rtol=1e-15)


@pytest.mark.parametrize(("road_class", "level"), [("B", 64e-6), ("D", 1024e-6)])
@pytest.mark.validates("ISO 8608:1995, Gd(n) = Gd(n0)·(n/n0)^-2, one-sided")
def test_spectrum_is_the_class_line(road_class: str, level: float) -> None:
    _, left, right = road(road_class, 3)
    for track in (left, right):
        wavenumber, density = welch(track, 1 / STEP, nperseg=4000, detrend="constant")
        used = (wavenumber >= 0.06) & (wavenumber <= 2.5)
        slope, height = np.polyfit(np.log(wavenumber[used] / 0.1), np.log(density[used]), 1, w=wavenumber[used] ** -0.5)
        # 30 roads of 6 km measured slope -2.000 +- 0.016, mean density over line 1.001 +- 0.008, and the line's level at n0
        # -0.7 % +- 3.4 %; tolerances are four times the scatter
        assert slope == pytest.approx(-2.0, abs=0.065)
        assert np.exp(height) == pytest.approx(level, rel=0.14)
        assert np.mean(density[used] * (wavenumber[used] / 0.1) ** 2) == pytest.approx(level, rel=0.032)


@pytest.mark.validates("closed form: variance is the integral of the density, Gd(n0)·n0²·(1/lowest - 1/highest)")
def test_variance_is_the_area_under_the_line() -> None:
    made, left, _ = road("E", 5, 20_000.0)
    variance = 4096e-6 * 0.01 * (1 / made.lowest - 1 / made.highest)
    # rel: 20 km hold some 300 independent waves of the longest kind; 30 seeds measured 1.002 +- 0.020, three times that
    assert left.var() == pytest.approx(variance, rel=0.065)


@pytest.mark.validates("closed form: outside the stated band there is nothing")
def test_band_is_kept() -> None:
    made = RandomRoad("D", lowest=0.1, highest=1.0, length=4000.0, fade=1.0)
    left, _ = made.heights(STEP * np.arange(80_000, dtype=np.float64), np.random.default_rng(1))
    wavenumber, density = welch(left[400:-400], 1 / STEP, nperseg=8000, window="blackmanharris")
    inside = density[(wavenumber > 0.12) & (wavenumber < 0.95)].min()
    # measured 6e-11: the window's side lobes lie 92 dB under its main lobe and fall further out (Harris 1978)
    assert density[wavenumber > 1.05].max() < 1e-9 * inside


@pytest.mark.validates("cosine transform across the track of a plane density ~ |n|^-3: isotropic surface, Kamash & Robson 1978")
@pytest.mark.parametrize("waviness", [2.0, 2.5])
def test_coherence_is_that_of_an_isotropic_surface(waviness: float) -> None:
    track = 1.5
    for wavenumber in (0.05, 0.1, 0.3, 0.6):

        def plane(across: float, along: float = wavenumber) -> float:
            return float((along * along + across * across) ** (-0.5 * (waviness + 1.0)))

        cross = 2 * quad(plane, 0, np.inf, weight="cos", wvar=2 * np.pi * track)[0]
        own = 2 * quad(plane, 0, np.inf)[0]
        stated = track_coherence(np.array([wavenumber * track]), waviness)[0]
        # abs: measured 8e-12, the quadrature's own error
        assert stated == pytest.approx(cross / own, abs=3e-11)


@pytest.mark.validates("the stated coherence function, measured by Welch's method")
def test_tracks_agree_as_stated() -> None:
    made, left, right = road("D", 8)
    wavenumber, squared = coherence(left, right, 1 / STEP, nperseg=2000)
    used = (wavenumber >= 0.06) & (wavenumber <= 1.0)
    difference = squared[used] - track_coherence(wavenumber[used] * made.track, made.waviness) ** 2
    # 30 roads of 6 km measured a mean of +0.008 (an estimate from 119 half-overlapping segments is biased up) +- 0.004 and a
    # largest of 0.10 +- 0.03; about three times the scatter beyond the mean
    assert abs(difference.mean()) < 0.02
    assert np.abs(difference).max() < 0.2
    assert squared[used][0] > 0.5
    assert squared[used][-1] < 0.1
