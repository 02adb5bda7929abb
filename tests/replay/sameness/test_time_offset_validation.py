"""The offset between two recordings against shifts that are known by construction."""

from __future__ import annotations

import numpy as np
import pytest

from replay.sameness.time_offset import OffsetFinder, lag_of

DT = 0.002


def wave(time: np.ndarray, seed: int = 4) -> np.ndarray:
    """Eight rows of a smooth random function of time, known between its samples too: a sum of sines below 8 Hz."""
    random = np.random.default_rng(seed)
    hz, phase, size = (random.uniform(low, high, (8, 12, 1)) for low, high in ((0.2, 8.0), (0.0, 2 * np.pi), (0.2, 1.0)))
    return np.asarray((size * np.sin(2 * np.pi * hz * time + phase)).mean(axis=1) + 0.5)


@pytest.mark.validates("closed form: the same function of time read later by a known number of samples")
@pytest.mark.parametrize("shift", [0.0, 0.3, -7.5, 40.25, 249.0, -249.4])
def test_a_shifted_copy_is_found_within_a_fifth_of_a_tick(shift: float) -> None:
    time = np.arange(3000) * DT
    lag, alike = lag_of(wave(time - shift * DT), wave(time), 250)
    assert abs(lag - shift) < 0.05  # worst here 0.02 of a tick; what is asked is 0.2
    assert alike > 0.99


@pytest.mark.validates("closed form: steps of a held signal, read later by a known number of samples")
@pytest.mark.parametrize("shift", [3.0, -12.0, 1.4])
def test_steps_between_duties_are_placed_within_a_fifth_of_a_tick(shift: float) -> None:
    random = np.random.default_rng(5)
    edges, levels = np.cumsum(random.uniform(0.1, 0.9, 60)), random.uniform(0.0, 1.0, (8, 61))
    time = np.arange(6000) * DT

    def slewed(moments: np.ndarray) -> np.ndarray:
        fine = moments[:, None] + np.linspace(-0.02, 0.0, 41)  # a slew limit: no step within one tick
        return np.asarray(levels[:, np.searchsorted(edges, fine)].mean(axis=2))

    lag, _ = lag_of(slewed(time - shift * DT), slewed(time), 250)
    assert abs(lag - shift) < 0.2  # worst here 0.03


@pytest.mark.validates("closed form: a clock that gains 100 millionths")
def test_a_drift_over_five_minutes_is_told_with_its_offset() -> None:
    ppm, begin = 100e-6, 0.012
    finder = OffsetFinder(DT)
    for start in range(0, 150_000, 20_000):
        time = (start + np.arange(20_000)) * DT
        noise = 0.02 * np.random.default_rng(start).standard_normal((8, 20_000))
        finder.take(wave(time - begin - ppm * time) + noise, wave(time))
    found = finder.result()
    assert found.drifts
    assert found.certain
    assert abs(found.drift / ppm - 1.0) < 0.03  # worst of the seeds tried 0.6 %
    assert abs(found.at(0.0) - begin) < 0.2 * DT
    assert abs(found.at(300.0) - begin - ppm * 300.0) < 0.2 * DT


@pytest.mark.validates("closed form: no drift where there is none")
def test_noise_is_not_called_a_drift() -> None:
    finder = OffsetFinder(DT)
    time = np.arange(60_000) * DT
    random = np.random.default_rng(8)
    finder.take(wave(time - 0.0042) + 0.05 * random.standard_normal((8, len(time))), wave(time))
    found = finder.result(expected_ticks=1.0)
    assert not found.drifts
    assert abs(found.seconds - 0.0022) < 0.2 * DT
    assert found.at(0.0) == found.seconds
