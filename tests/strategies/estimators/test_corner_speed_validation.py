"""Vertical speed of the corners: what the leaks leave, and a 20 degree berm against the plant's truth."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import lfilter

from dualduty.units import STANDARD_GRAVITY
from tests.strategies.estimators.lane import DT, Driven, estimate, plug_in, run, shown_rows, spread

Array = NDArray[np.float64]


def heave_speed(acceleration: Any, leak_hz: float = 0.2) -> Array:
    """Over a heave acceleration (time,)."""
    rows = np.broadcast_to(np.asarray(acceleration, float).reshape(1, -1, 1), (4, np.size(acceleration), 1))
    given = spread(np.size(acceleration), corner_acceleration=rows, net_roll_rate=0.0, net_pitch_rate=0.0)
    return run(plug_in("CornerSpeed", leak_hz=leak_hz), given)["heave_speed"][0, :, 0]  # type: ignore[no-any-return]


def true_speeds(driven: Driven) -> Array:
    """Of the plant, at the corners."""
    arm, side = driven.car.arm.reshape(4, 1, 1), driven.car.side.reshape(4, 1, 1)
    heave, roll, pitch = (np.gradient(driven.truth[name], DT, axis=1) for name in ("heave", "roll", "pitch"))
    return np.asarray(heave + side * roll - arm * pitch)


@pytest.mark.validates(
    "closed form: a double high-pass s^2 / (s + w)^2 of the speed; amplitude 1 / (1 + (w / W)^2), early by 2 atan(w / W)"
)
@pytest.mark.parametrize("hz", [0.2, 1.3, 10.0])
def test_amplitude_and_phase(hz: float) -> None:
    time = np.arange(20_000) * DT
    found = heave_speed(2 * np.pi * hz * np.cos(2 * np.pi * hz * time))[10_000:]
    wave = np.exp(-2j * np.pi * hz * time[10_000:])
    answer = 2j * (found * wave).mean()  # of sin(W t), amplitude 1
    expected = 1.0 / (1.0 - 0.2j / hz) ** 2
    # abs: half a tick of phase, 0.063 at 10 Hz, and what the window leaves of 0.2 Hz
    assert abs(answer - expected) < np.pi * hz * DT + 0.003


@pytest.mark.validates("closed form: a constant error e makes e t exp(-w t), at most e / (w e) after 1 / w, and nothing in the end")
def test_a_constant_error_dies_away() -> None:
    found = heave_speed(np.full(10_000, 0.5))
    assert found.max() == pytest.approx(0.5 / (2 * np.pi * 0.2) / np.e, rel=0.01)
    assert abs(found[-1]) < 1e-6


@pytest.mark.validates("plant truth: corner speeds in a 20 degree berm held for 3 s, usual sensors")
def test_a_berm_does_not_lift_it(driven: Driven) -> None:
    held = slice(1250, 2100)
    true = true_speeds(driven)
    error = driven.cut(estimate(driven, ["corner_speed"])["corner_speed"] - true, "berm_20_deg")[:, held]
    # gravity as a constant and one leak of 0.35 Hz, as it was
    turn = 2 * np.pi * 0.35
    before = lfilter(
        [-np.expm1(-turn * DT) / turn], [1.0, -np.exp(-turn * DT)], driven.signals["specific_force_z"] - STANDARD_GRAVITY, axis=1
    )
    heave = driven.cut(true, "berm_20_deg").mean(axis=0)
    was = driven.cut(before, "berm_20_deg")[0, held] - heave[held]
    assert was.mean() > 0.5  # measured 0.55 m/s
    assert abs(error.mean()) < 0.02  # measured +0.008
    assert abs(error[:, -250:].mean()) < 0.02  # measured -0.003


@pytest.mark.validates("plant truth: corner speeds of a lane; slow heave of ramps and berms is forgotten on purpose")
def test_on_the_lane(driven: Driven) -> None:
    error = estimate(driven, ["corner_speed"])["corner_speed"] - true_speeds(driven)
    shown = shown_rows(driven.names)
    for section in driven.names:
        assert driven.rms(error, section) == pytest.approx(shown[section][5], abs=0.006)
