"""Suspension attitude: a travel that is lost."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.strategies.estimators.lane import plug_in, run

Array = NDArray[np.float64]
TICKS = 1200


def attitude(travel: Array, lost: int | None = None, since: int = 300, until: int = TICKS) -> tuple[Array, Array]:
    """Suspension roll and pitch; a lost travel is held, as the intake does."""
    travels = np.ascontiguousarray(np.broadcast_to(travel.reshape(4, -1, 1), (4, TICKS, 1))).copy()
    valid = np.ones((4, TICKS, 1))
    if lost is not None:
        valid[lost, since:until] = 0.0
        travels[lost, since:until] = travels[lost, since - 1]
    made = plug_in("SuspensionAttitude", motion_ratio=[0.6] * 4, static_travel=[0.1] * 4, half_track=[0.75, 0.75, 0.7, 0.7], wheelbase=2.4)
    found = run(made, {"shaft_travel": travels, "shaft_travel_valid": valid})
    return found["suspension_roll"][0, :, 0], found["suspension_pitch"][0, :, 0]


def rolled(roll: Array | float, pitch: Array | float = 0.0) -> Array:
    """Travels of a body that rolls and pitches on level ground."""
    half, end = np.array([0.75, -0.75, 0.7, -0.7]).reshape(4, 1), np.array([1.2, 1.2, -1.2, -1.2]).reshape(4, 1)
    travel: Array = 0.1 + 0.6 * (end * np.atleast_1d(pitch) - half * np.atleast_1d(roll))
    return travel


@pytest.mark.parametrize("corner", range(4))
def test_the_other_three_tell_what_a_lost_one_would(corner: int) -> None:
    time = np.arange(TICKS) * 0.002
    roll, pitch = 0.05 * np.sin(2 * time), 0.03 * np.cos(3 * time)
    found = attitude(rolled(roll, pitch), corner)
    # abs: at the moment of the loss the hand-over keeps what one tick moved, 0.1 mrad, and lets it die away
    assert found[0] == pytest.approx(roll, abs=1.1e-4)
    assert found[1] == pytest.approx(pitch, abs=1.1e-4)
    assert found[0][900:] == pytest.approx(roll[900:], abs=1e-6)


@pytest.mark.parametrize("corner", range(4))
def test_losing_one_and_getting_it_back_makes_no_step(corner: int) -> None:
    travel = rolled(0.04)
    travel[corner] += 0.03  # a wheel on a stone: the other three know nothing of it
    roll, pitch = attitude(travel, corner, 300, 800)
    # the 50 mm of wheel travel between both die away with 1.5 Hz: 0.94 mm a tick, a quarter of it in 1.45 m, an eighth in 2.4 m
    assert np.abs(np.diff(roll)).max() < 0.94e-3 / 2 / 1.4 * 1.05
    assert np.abs(np.diff(pitch)).max() < 0.94e-3 / 2 / 2.4 * 1.05
    assert abs(roll[790] - roll[290]) > 0.01  # it does get to what the three say


def test_two_lost_ones_stay_finite_and_small() -> None:
    travels = np.full((4, TICKS, 1), 0.12)
    valid = np.ones((4, TICKS, 1))
    valid[:2, 300:] = 0.0
    made = plug_in("SuspensionAttitude", static_travel=[0.1] * 4)
    found = run(made, {"shaft_travel": travels, "shaft_travel_valid": valid})
    assert np.abs(found["suspension_roll"]).max() < 0.05
    assert np.abs(found["suspension_pitch"]).max() < 0.05


@pytest.mark.parametrize(
    ("lost", "roll", "pitch"), [((0, 2), 0.0, 0.02), ((0, 1), -0.03, 0.0), ((0, 3), 0.0, 0.0019), ((0, 1, 2), 0.0, 0.0)]
)
def test_two_or_more_lost_leave_no_angle_standing(lost: tuple[int, ...], roll: float, pitch: float) -> None:
    """Lost while the body leans the other way: what is left counts, not where the lost ones last stood; one diagonal can't tell both."""
    travels = np.repeat(rolled(0.05, -0.04), TICKS, axis=1)[:, :, None]
    travels[:, 300:] = rolled(-0.03, 0.02)[:, :, None]
    valid = np.ones((4, TICKS, 1))
    for corner in lost:
        travels[corner, 300:], valid[corner, 300:] = travels[corner, 299], 0.0
    made = plug_in("SuspensionAttitude", motion_ratio=[0.6] * 4, static_travel=[0.1] * 4, half_track=[0.75, 0.75, 0.7, 0.7], wheelbase=2.4)
    found = run(made, {"shaft_travel": np.ascontiguousarray(travels), "shaft_travel_valid": valid})
    # abs: as if both ends were as wide, which they are not: 1.0 mrad of roll, 0.6 mrad of pitch
    assert found["suspension_roll"][0, -1, 0] == pytest.approx(roll, abs=1.1e-3)
    assert found["suspension_pitch"][0, -1, 0] == pytest.approx(pitch, abs=0.7e-3)
