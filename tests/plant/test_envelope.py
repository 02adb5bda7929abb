"""What the tyre makes of the ground."""

from __future__ import annotations

import numpy as np
import pytest

from plant.envelope import contact_average, enveloped, rolled_circle


def test_contact_average_is_the_mean_over_the_patch() -> None:
    distance = 0.05 * np.arange(400, dtype=np.float64)
    for patch in (0.05, 0.1, 0.12, 0.25):
        wave = np.sin(2 * np.pi * distance / 1.0)
        gain = np.ptp(contact_average(wave, patch, 0.05)[100:300]) / np.ptp(wave[100:300])
        # the mean of a sine over a length L is sinc(L/wavelength); on a grid of 20 a wave it measures 0.4 to 0.8 % off
        assert gain == pytest.approx(np.sinc(patch), rel=0.012)


def test_contact_average_keeps_planes_and_may_be_switched_off() -> None:
    plane = 0.1 * np.arange(200.0)
    np.testing.assert_allclose(contact_average(plane, 0.3, 0.05)[10:-10], plane[10:-10], rtol=1e-12)  # rounding
    assert contact_average(plane, 0.0, 0.05) is plane


def test_without_radius_and_patch_the_ground_is_left_alone() -> None:
    ground = np.random.default_rng(1).standard_normal(200)
    assert rolled_circle(ground, 0.0, 0.05) is ground
    assert enveloped(ground, 0.05, 0.0, 0.0) is ground
    assert np.array_equal(enveloped(ground, 0.05, 0.0, 0.15), contact_average(ground, 0.15, 0.05))


def test_circle_first_then_the_patch() -> None:
    ground = 0.05 * np.random.default_rng(2).standard_normal(200)
    circle_first = contact_average(rolled_circle(ground, 0.36, 0.05), 0.15, 0.05)
    assert np.array_equal(enveloped(ground, 0.05, 0.36, 0.15), circle_first)
    assert not np.allclose(circle_first, rolled_circle(contact_average(ground, 0.15, 0.05), 0.36, 0.05))


def test_circle_never_cuts_into_the_ground_and_is_the_same_both_ways() -> None:
    ground = 0.05 * np.random.default_rng(3).standard_normal(400)
    felt = rolled_circle(ground, 0.3, 0.02)
    assert (felt >= ground).all()
    # rounding: the two ways take the same touches from either end of a piece
    np.testing.assert_allclose(rolled_circle(ground[::-1].copy(), 0.3, 0.02)[::-1], felt, atol=1e-14)
