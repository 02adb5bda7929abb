"""What the controller believes of its sensors: no NaN passes, one bad value is not believed, a real jump is in the end."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from numpy.typing import NDArray

from dualduty.memory import Memory
from dualduty.signals import CONTROLLER_LAYOUT, CONTROLLER_SIGNALS, SIGNALS
from strategies.intake import Intake

Array = NDArray[np.float64]
DT = 0.002
ROWS = CONTROLLER_LAYOUT.size
TRAVEL = CONTROLLER_LAYOUT.rows["shaft_travel"]


def lively(ticks: int, cases: int = 1) -> Array:
    """Every channel near its rest value, none ever the same twice."""
    time = np.arange(ticks) * DT
    rest = CONTROLLER_LAYOUT.per_row("rest").reshape(-1, 1, 1)
    row = np.arange(ROWS).reshape(-1, 1, 1)
    size = np.where((row >= TRAVEL.start) & (row < TRAVEL.stop), 0.1, 0.02)  # shafts that work, so that a stuck channel stands out
    wave = size * np.sin(2 * np.pi * (1.0 + 0.1 * row) * time.reshape(1, -1, 1) + row) + np.zeros((1, 1, cases))
    return np.ascontiguousarray(rest + wave * np.abs(np.sin(row + 1.0)))


def passed(sensed: Array, intake: Intake | None = None, cuts: tuple[int, ...] = ()) -> tuple[Array, Array]:
    """Clean and valid."""
    memory = Memory(DT)
    parts = []
    for a, b in pairwise(cuts or (0, sensed.shape[1])):
        memory.begin()
        parts.append((intake or Intake()).run(sensed[:, a:b], memory))
        memory.end()
    clean, valid = (np.concatenate(part, axis=1) for part in zip(*parts, strict=True))
    return clean, valid


def test_good_signals_pass_untouched() -> None:
    sensed = lively(800, 2)
    clean, valid = passed(sensed)
    np.testing.assert_array_equal(clean, sensed)
    np.testing.assert_array_equal(valid, 1.0)


@pytest.mark.parametrize("signal", CONTROLLER_SIGNALS, ids=lambda signal: signal.name)
@pytest.mark.parametrize("bad", ["nan", "low", "high"])
def test_a_bad_value_is_held_over_and_flagged_on_its_own_channel_only(signal: object, bad: str) -> None:
    rows = CONTROLLER_LAYOUT.rows[signal.name]  # type: ignore[attr-defined]
    sensed = lively(30)
    value = {"nan": np.nan, "low": signal.low - 1e-6, "high": signal.high + 1e-6}[bad]  # type: ignore[attr-defined]
    sensed[rows.start, 10:13] = value
    clean, valid = passed(sensed)
    assert (clean[rows.start, 10:13] == clean[rows.start, 9]).all()
    np.testing.assert_array_equal(np.argwhere(valid == 0.0)[:, :2], [[rows.start, tick] for tick in (10, 11, 12)])
    np.testing.assert_array_equal(clean[rows.start, 13:], sensed[rows.start, 13:])


@pytest.mark.parametrize("bad", [np.nan, np.inf, 1e9])
def test_a_bad_first_sample_gives_the_rest_value_until_a_good_one_comes(bad: float) -> None:
    sensed = lively(10)
    good = sensed.copy()
    sensed[:, :4] = bad
    clean, valid = passed(sensed)
    np.testing.assert_array_equal(clean[:, :4, 0], np.repeat(CONTROLLER_LAYOUT.per_row("rest")[:, None], 4, axis=1))
    np.testing.assert_array_equal(valid[:, :, 0], np.tile([0, 0, 0, 0, 1, 1, 1, 1, 1, 1], (ROWS, 1)))
    np.testing.assert_array_equal(clean[:, 4:], good[:, 4:])  # the first good one is believed wherever it is


def test_a_spike_is_not_believed_and_does_not_disturb_what_comes_after() -> None:
    sensed = lively(30)
    sensed[TRAVEL.start, 12] += 0.2  # 0.2 m in 2 ms is 100 m/s; believable are 12 m/s
    clean, valid = passed(sensed)
    assert valid[TRAVEL.start, 12, 0] == 0.0
    assert valid.sum() == valid.size - 1
    assert clean[TRAVEL.start, 12, 0] == clean[TRAVEL.start, 11, 0]


def test_a_real_jump_is_believed_once_it_could_have_come_that_far() -> None:
    sensed = np.full((ROWS, 30, 1), np.nan)
    sensed[TRAVEL.start, :10], sensed[TRAVEL.start, 10:] = 0.1, 0.27
    _, valid = passed(sensed)
    # 0.17 m at 12 m/s takes 14.2 ms: 8 ticks of 2 ms
    np.testing.assert_array_equal(valid[TRAVEL.start, :, 0], [1.0] * 10 + [0.0] * 7 + [1.0] * 13)


def test_the_share_of_the_rate_scales_it() -> None:
    sensed = np.full((ROWS, 30, 1), np.nan)
    sensed[TRAVEL.start, :10], sensed[TRAVEL.start, 10:] = 0.1, 0.27
    _, valid = passed(sensed, Intake(rate_share=2.0))
    assert valid[TRAVEL.start, :, 0].sum() == 27  # 7.1 ms: 4 ticks, 3 of them not believed


def test_a_stuck_channel_is_told_after_its_time_while_the_others_move() -> None:
    sensed = lively(400)
    sensed[TRAVEL.start + 1, 50:] = sensed[TRAVEL.start + 1, 50]
    clean, valid = passed(sensed, Intake(stuck_after=0.1))
    # the value of tick 50 has lasted for 50 ticks at tick 100
    np.testing.assert_array_equal(valid[TRAVEL.start + 1, :, 0], [1.0] * 100 + [0.0] * 300)
    assert valid.sum() == valid.size - 300
    assert (clean[TRAVEL.start + 1, 50:] == clean[TRAVEL.start + 1, 50]).all()


def test_a_standing_vehicle_has_no_stuck_channel() -> None:
    sensed = np.repeat(lively(1), 500, axis=1)
    _, valid = passed(sensed, Intake(stuck_after=0.1))
    np.testing.assert_array_equal(valid, 1.0)


def test_coarse_sensors_on_a_smooth_road_are_not_stuck() -> None:
    """Travel on a grid of half a millimetre that hardly moves, as over a bus: nothing is stuck."""
    sensed = lively(2000)
    travel = 0.1 + 0.0009 * np.sin(2 * np.pi * 0.5 * np.arange(2000) * DT)
    sensed[TRAVEL] = (np.round(travel / 5e-4) * 5e-4)[None, :, None]
    np.testing.assert_array_equal(passed(sensed)[1], 1.0)


def test_a_few_moving_channels_do_not_make_the_others_stuck() -> None:
    """A standing vehicle with its engine shaking two of ten lively channels: the other eight are at rest, not broken."""
    sensed = lively(500)
    for name in ("shaft_travel", "specific_force_x", "specific_force_y", "roll_rate", "yaw_rate"):
        sensed[CONTROLLER_LAYOUT.rows[name]] = sensed[CONTROLLER_LAYOUT.rows[name], :1]
    np.testing.assert_array_equal(passed(sensed, Intake(stuck_after=0.1))[1], 1.0)


def test_channels_that_give_nothing_do_not_count_as_moving() -> None:
    """Else a standing vehicle with a broken bus would have all its other channels called stuck."""
    sensed = np.repeat(lively(1), 500, axis=1)
    for name in ("specific_force_x", "specific_force_y", "specific_force_z", "roll_rate", "pitch_rate", "yaw_rate"):
        sensed[CONTROLLER_LAYOUT.rows[name]] = np.nan
    _, valid = passed(sensed, Intake(stuck_after=0.1))
    np.testing.assert_array_equal(valid[TRAVEL], 1.0)


def test_a_quiet_channel_such_as_the_brake_is_never_stuck() -> None:
    sensed = lively(400)
    sensed[CONTROLLER_LAYOUT.rows["brake"]] = 0.0
    sensed[CONTROLLER_LAYOUT.rows["steer_angle"]] = 0.1
    np.testing.assert_array_equal(passed(sensed, Intake(stuck_after=0.1))[1], 1.0)


def test_a_stuck_channel_is_believed_again_when_it_moves() -> None:
    sensed = lively(400)
    row = CONTROLLER_LAYOUT.rows["yaw_rate"].start
    sensed[row, 50:200] = sensed[row, 50]
    _, valid = passed(sensed, Intake(stuck_after=0.1))
    np.testing.assert_array_equal(valid[row, :, 0], [1.0] * 100 + [0.0] * 100 + [1.0] * 200)


WILD = st.one_of(st.floats(-100, 100), st.sampled_from([np.nan, np.inf, -np.inf, 0.0, 1e300]))


@given(sensed=arrays(np.float64, (ROWS, 6, 2), elements=WILD, fill=WILD), cut=st.integers(1, 5))
def test_whatever_comes_what_passes_is_finite_in_range_and_the_same_in_any_cut(sensed: Array, cut: int) -> None:
    clean, valid = passed(sensed)
    low, high = (CONTROLLER_LAYOUT.per_row(name).reshape(-1, 1, 1) for name in ("low", "high"))
    assert np.isfinite(clean).all()
    assert ((clean >= low) & (clean <= high)).all()
    assert np.isin(valid, (0.0, 1.0)).all()
    np.testing.assert_array_equal(clean[valid == 1.0], sensed[valid == 1.0])
    rest = np.broadcast_to(CONTROLLER_LAYOUT.per_row("rest").reshape(-1, 1, 1), clean.shape)
    seen = np.cumsum(valid, axis=1) > 0
    np.testing.assert_array_equal(clean[~seen], rest[~seen])
    for one, other in zip(passed(sensed, cuts=(0, cut, 6)), (clean, valid), strict=True):
        np.testing.assert_array_equal(one, other)


def test_the_rest_value_of_every_signal_is_one_it_would_believe() -> None:
    for signal in SIGNALS.values():
        assert signal.low <= signal.rest <= signal.high, signal.name
