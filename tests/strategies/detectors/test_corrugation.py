"""Corrugation: waves of a washboard's length that repeat, alone or with random ground on top; not hop, not long waves, not flight."""

from __future__ import annotations

import numpy as np
import pytest

from strategies.detectors.corrugation import Corrugation
from tests.strategies.detectors.play import DT, Array, during, intervals, play, times

TIME = times(6.0)
SPEED = 11.0


def washboard(wavelength: float, size: float = 0.5, lag: float = 0.7) -> Array:
    """Shaft speeds over waves of one length, the right side later. [m/s]"""
    phase = 2 * np.pi * SPEED * TIME / wavelength
    left, right = size * np.sin(phase), size * np.sin(phase - lag)
    return np.stack([left, right, left, right])


def noise(size: float, seed: int = 4) -> Array:
    """Shaft speeds as random ground makes them: a hop of 9 Hz, damped by 12 %, shaken at random, four alike in size."""
    random = np.random.default_rng(seed)
    pull = random.normal(size=(4, TIME.size))
    hop, damping = 2 * np.pi * 9.0, 0.12
    speed, place = np.zeros(4), np.zeros(4)
    made = np.empty_like(pull)
    for tick in range(TIME.size):
        speed = speed + DT * (pull[:, tick] - 2 * damping * hop * speed - hop**2 * place)
        place = place + DT * speed
        made[:, tick] = speed
    return np.asarray(size * made / made.std())


@pytest.mark.parametrize("wavelength", [0.6, 0.8, 1.1])
def test_a_washboard_is_told_within_half_a_second(wavelength: float) -> None:
    moved = washboard(wavelength) * during(TIME, 2.0, 5.0)
    ((start, end),) = intervals(play(Corrugation(), shaft_speed=moved, vehicle_speed=SPEED)["corrugation"])
    assert 2.1 < start < 2.6
    assert 5.2 < end < 6.0


def test_random_ground_on_top_does_not_hide_it() -> None:
    given = play(Corrugation(), shaft_speed=washboard(0.8) + noise(0.25), vehicle_speed=SPEED)  # half its power
    assert given["corrugation"].active[0, 1000:].mean() > 0.9


@pytest.mark.parametrize("seed", range(6))
def test_wheels_that_hop_at_random_are_no_washboard(seed: int) -> None:
    assert intervals(play(Corrugation(), shaft_speed=noise(0.6, seed), vehicle_speed=SPEED)["corrugation"]) == []


def test_the_wavelength_counts_and_not_the_frequency() -> None:
    beats = washboard(0.8)
    assert intervals(play(Corrugation(), shaft_speed=beats, vehicle_speed=SPEED)["corrugation"]) != []
    assert intervals(play(Corrugation(), shaft_speed=2.0 * beats, vehicle_speed=3.0 * SPEED)["corrugation"]) == []  # waves of 2.4 m
    assert intervals(play(Corrugation(), shaft_speed=beats, vehicle_speed=2.0)["corrugation"]) == []  # too slow


def test_flight_and_small_waves_do_not_count() -> None:
    given = play(Corrugation(), shaft_speed=washboard(0.8), vehicle_speed=SPEED, airborne=1.0)
    small = play(Corrugation(), shaft_speed=washboard(0.8, 0.1), vehicle_speed=SPEED)
    assert intervals(given["corrugation"]) == intervals(small["corrugation"]) == []
