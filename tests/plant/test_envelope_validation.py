"""A rolled circle against plane geometry."""

from __future__ import annotations

import numpy as np
import pytest

from plant.envelope import rolled_circle

RADIUS, STEP = 0.36, 0.005
ALONG = STEP * np.arange(-400, 401, dtype=np.float64)


@pytest.mark.parametrize("height", [0.05, 0.1, 0.25])
@pytest.mark.validates("closed form: a circle meets the edge of a ledge sqrt(2Rh - h²) before it and pivots about it, Pythagoras")
def test_ledge_is_climbed_along_the_circle(height: float) -> None:
    felt = rolled_circle(np.where(ALONG >= 0, height, 0.0), RADIUS, STEP)
    ahead = np.sqrt(2 * RADIUS * height - height**2)
    pivot = height + np.sqrt(np.maximum(RADIUS**2 - ALONG**2, 0.0)) - RADIUS
    expected = np.where(ALONG >= 0, height, np.where(-ahead < ALONG, pivot, 0.0))
    # atol: rounding. On the grid the ledge's face leans over one step, behind the edge that the circle pivots about
    np.testing.assert_allclose(felt, expected, atol=1e-14)
    assert ALONG[np.flatnonzero(felt > 1e-6)[0]] == pytest.approx(-ahead, abs=STEP)


@pytest.mark.parametrize("height", [0.05, 0.25])
@pytest.mark.validates("closed form: rolling off an edge is climbing it in reverse")
def test_drop_is_left_along_the_circle(height: float) -> None:
    felt = rolled_circle(np.where(ALONG > 0, -height, 0.0), RADIUS, STEP)
    pivot = np.sqrt(np.maximum(RADIUS**2 - ALONG**2, 0.0)) - RADIUS
    np.testing.assert_allclose(felt, np.where(ALONG <= 0, 0.0, np.maximum(pivot, -height)), atol=1e-14)  # rounding


@pytest.mark.parametrize("width", [0.1, 0.3, 0.6])
@pytest.mark.validates("closed form: over a slot a circle hangs on both rims and sinks by R - sqrt(R² - (w/2)²)")
def test_slot_is_bridged(width: float) -> None:
    slot = np.where(np.abs(ALONG) < 0.5 * width - 1e-9, -0.5, 0.0)
    felt = rolled_circle(slot, RADIUS, STEP)
    sunk = RADIUS - np.sqrt(RADIUS**2 - 0.25 * width**2)
    assert felt.min() == pytest.approx(-sunk, abs=1e-14)  # rounding
    assert not felt[np.abs(ALONG) >= 0.5 * width].any()


@pytest.mark.parametrize("slope", [-0.3, 0.02, 0.1])
@pytest.mark.validates(
    "closed form: on an even slope the circle touches at its foot point, R·(sqrt(1 + s²) - 1) above the ground under its middle"
)
def test_slope_is_followed(slope: float) -> None:
    ground = slope * ALONG
    felt = rolled_circle(ground, RADIUS, STEP)
    inside = np.abs(ALONG) < 1.5  # the ends are held
    np.testing.assert_allclose((felt - ground)[inside], RADIUS * (np.sqrt(1 + slope**2) - 1), atol=1e-14)  # rounding
    assert not rolled_circle(np.zeros(50), RADIUS, STEP).any()


@pytest.mark.validates(
    "closed form: over a wave whose bend stays below 1/R the circle touches once, at x + R·sin(angle), and rides on the parallel curve"
)
def test_long_wave_is_followed() -> None:
    length, height = 5.0, 0.2  # bend up to 0.1·(2·pi/5)² = 0.16 1/m, a circle's is 2.8
    along = STEP * np.arange(2000, dtype=np.float64)
    wave = 0.5 * height * np.sin(2 * np.pi * along / length)
    slope = np.pi * height / length * np.cos(2 * np.pi * along / length)
    norm = np.sqrt(1 + slope**2)
    parallel = np.interp(along, along - RADIUS * slope / norm, wave + RADIUS / norm - RADIUS)
    inside = (along > 1.0) & (along < 9.0)
    # atol: chords of 5 mm lie up to 0.16·0.005²/8 = 5e-7 m below the wave, here and in the interpolation
    np.testing.assert_allclose(rolled_circle(wave, RADIUS, STEP)[inside], parallel[inside], atol=1e-6)
    assert np.abs(parallel - wave)[inside].max() < 0.003


@pytest.mark.validates("law of nature: a finer grid of the same broken line gives the same circle")
def test_grid_does_not_matter() -> None:
    coarse = 0.05 * np.random.default_rng(4).standard_normal(120)
    at = 0.05 * np.arange(120, dtype=np.float64)
    fine = np.arange(0.0, at[-1] + 1e-9, 0.01)
    felt = rolled_circle(np.interp(fine, at, coarse), RADIUS, 0.01)
    np.testing.assert_allclose(felt[::5][: len(coarse)], rolled_circle(coarse, RADIUS, 0.05), atol=1e-13)  # rounding
