"""What the controller believes of its sensors: no NaN passes, one bad value is not believed, a real jump is in the end."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from numpy.typing import NDArray

from dualduty.memory import Memory
from dualduty.signals import CONTROLLER_LAYOUT, CONTROLLER_SIGNALS, SIGNALS, Signal
from strategies.channel_checks import BELIEVED, DISAGREES, JUMPED, MISSING, OUT_OF_RANGE, STUCK
from strategies.intake import Intake

Array = NDArray[np.float64]
DT = 0.002
ROWS = CONTROLLER_LAYOUT.size
TRAVEL = CONTROLLER_LAYOUT.rows["shaft_travel"]
WHEEL = CONTROLLER_LAYOUT.rows["wheel_speed"]
YAW = CONTROLLER_LAYOUT.rows["yaw_rate"].start
ALONE: dict[str, Any] = {"compare": 0.0}  # made-up signals mean nothing together


def lively(ticks: int, cases: int = 1) -> Array:
    """Every channel near its rest value, none ever the same twice; wheels stand."""
    time = np.arange(ticks) * DT
    rest = CONTROLLER_LAYOUT.per_row("rest").reshape(-1, 1, 1)
    row = np.arange(ROWS).reshape(-1, 1, 1)
    size = np.where((row >= TRAVEL.start) & (row < TRAVEL.stop), 0.1, 0.02)  # shafts that work, so that a stuck channel stands out
    size[CONTROLLER_LAYOUT.rows["steer_angle"]] = 0.1  # and somebody steers, so that a stuck yaw gyro does
    wave = size * np.sin(2 * np.pi * (1.0 + 0.1 * row) * time.reshape(1, -1, 1) + row) + np.zeros((1, 1, cases))
    return np.ascontiguousarray(rest + wave * np.abs(np.sin(row + 1.0)))


def passed(sensed: Array, intake: Intake | None = None, cuts: tuple[int, ...] = ()) -> tuple[Array, Array, Array]:
    """Clean, kind and lost."""
    memory = Memory(DT)
    parts = []
    for a, b in pairwise(cuts or (0, sensed.shape[1])):
        memory.begin()
        parts.append((intake or Intake(**ALONE)).run(sensed[:, a:b], memory))
        memory.end()
    clean, kind, lost = (np.concatenate(part, axis=1) for part in zip(*parts, strict=True))
    return clean, kind, lost


def test_good_signals_pass_untouched() -> None:
    sensed = lively(800, 2)
    clean, kind, lost = passed(sensed)
    np.testing.assert_array_equal(clean, sensed)
    assert not kind.any()
    assert not lost.any()


@pytest.mark.parametrize("signal", CONTROLLER_SIGNALS, ids=lambda signal: signal.name)
@pytest.mark.parametrize(("bad", "expected"), [("nan", MISSING), ("low", OUT_OF_RANGE), ("high", OUT_OF_RANGE)])
def test_a_bad_value_is_held_over_and_told_of_its_own_channel_only(signal: Signal, bad: str, expected: float) -> None:
    rows = CONTROLLER_LAYOUT.rows[signal.name]
    sensed = lively(30)
    value = {"nan": np.nan, "low": signal.low - 1e-6, "high": signal.high + 1e-6}[bad]
    sensed[rows.start, 10:13] = value
    clean, kind, _ = passed(sensed)
    assert (clean[rows.start, 10:13] == clean[rows.start, 9]).all()
    np.testing.assert_array_equal(np.argwhere(kind > 0.0)[:, :2], [[rows.start, tick] for tick in (10, 11, 12)])
    assert (kind[rows.start, 10:13] == expected).all()
    np.testing.assert_array_equal(clean[rows.start, 13:], sensed[rows.start, 13:])


@pytest.mark.parametrize("bad", [np.nan, np.inf, 1e9])
def test_a_bad_first_sample_gives_the_rest_value_until_a_good_one_comes(bad: float) -> None:
    sensed = lively(10)
    good = sensed.copy()
    sensed[:, :4] = bad
    clean, kind, _ = passed(sensed)
    np.testing.assert_array_equal(clean[:, :4, 0], np.repeat(CONTROLLER_LAYOUT.per_row("rest")[:, None], 4, axis=1))
    np.testing.assert_array_equal(kind[:, :, 0] == BELIEVED, np.tile([0, 0, 0, 0, 1, 1, 1, 1, 1, 1], (ROWS, 1)))
    np.testing.assert_array_equal(clean[:, 4:], good[:, 4:])  # the first good one is believed wherever it is


def test_a_channel_that_is_not_fitted_is_missing_and_lost_and_gives_its_rest_value() -> None:
    sensed = lively(100)
    sensed[CONTROLLER_LAYOUT.rows["pitch_rate"]] = np.nan
    clean, kind, lost = passed(sensed, Intake(fault_after=0.05, **ALONE))
    row = CONTROLLER_LAYOUT.rows["pitch_rate"].start
    assert (kind[row] == MISSING).all()
    assert (clean[row] == SIGNALS["pitch_rate"].rest).all()
    np.testing.assert_array_equal(lost[row, :, 0], [0.0] * 25 + [1.0] * 75)
    assert not np.delete(kind, row, axis=0).any()


def test_a_spike_is_not_believed_and_does_not_disturb_what_comes_after() -> None:
    sensed = lively(30)
    sensed[TRAVEL.start, 12] += 0.2  # 0.2 m in 2 ms is 100 m/s; believable are 12 m/s
    clean, kind, _ = passed(sensed)
    np.testing.assert_array_equal(np.argwhere(kind == JUMPED), [[TRAVEL.start, 12, 0]])
    assert np.count_nonzero(kind) == 1
    assert clean[TRAVEL.start, 12, 0] == clean[TRAVEL.start, 11, 0]


def test_a_real_jump_is_believed_once_it_could_have_come_that_far() -> None:
    sensed = np.full((ROWS, 30, 1), np.nan)
    sensed[TRAVEL.start, :10], sensed[TRAVEL.start, 10:] = 0.1, 0.27
    kind = passed(sensed)[1]
    # 0.17 m at 12 m/s takes 14.2 ms: 8 ticks of 2 ms
    np.testing.assert_array_equal(kind[TRAVEL.start, :, 0], [BELIEVED] * 10 + [JUMPED] * 7 + [BELIEVED] * 13)


def test_the_share_of_the_rate_scales_it() -> None:
    sensed = np.full((ROWS, 30, 1), np.nan)
    sensed[TRAVEL.start, :10], sensed[TRAVEL.start, 10:] = 0.1, 0.27
    kind = passed(sensed, Intake(rate_share=2.0, **ALONE))[1]
    assert np.count_nonzero(kind[TRAVEL.start]) == 3  # 7.1 ms: 4 ticks, 3 of them not believed


@pytest.mark.parametrize(("name", "noise"), [("shaft_travel", 0.03), ("roll_rate", 1.0), ("yaw_rate", 1.0), ("specific_force_z", 25.0)])
def test_a_channel_that_jumps_to_and_fro_is_not_believed_though_each_value_could_be(name: str, noise: float) -> None:
    """Loose plugs give noise; three times less of it is what a shaking engine may do."""
    random = np.random.default_rng(3).normal(size=1000)
    row = CONTROLLER_LAYOUT.rows[name].start
    for size, share in ((noise, 1.0), (noise / 4.0, 0.0)):
        sensed = lively(1000)
        sensed[row, :, 0] += size * random
        kind, lost = passed(sensed, Intake(rate_share=1.0, **ALONE))[1:]
        assert lost[row, 500:].mean() == share, size
        assert not np.delete(kind, row, axis=0).any()


def test_infinities_leave_no_trace() -> None:
    """Noise is told afterwards as before."""
    random = np.random.default_rng(3).normal(size=1500)
    sensed = lively(1500)
    sensed[YAW, 5:12, 0] = [np.inf, 0.1, -np.inf, -np.inf, 0.1, -np.inf, np.inf]
    sensed[YAW, 750:, 0] += random[750:]
    lost = passed(sensed, Intake(**ALONE))[2]
    assert not lost[YAW, 100:750].any()
    assert lost[YAW, 1250:].all()


def test_a_stuck_channel_is_told_after_its_time_while_the_others_move() -> None:
    sensed = lively(400)
    sensed[TRAVEL.start + 1, 50:] = sensed[TRAVEL.start + 1, 50]
    clean, kind, _ = passed(sensed, Intake(stuck_after=0.1, **ALONE))
    # the value of tick 50 has lasted for 50 ticks at tick 100
    np.testing.assert_array_equal(kind[TRAVEL.start + 1, :, 0], [BELIEVED] * 100 + [STUCK] * 300)
    assert np.count_nonzero(kind) == 300
    assert (clean[TRAVEL.start + 1, 50:] == clean[TRAVEL.start + 1, 50]).all()


def test_a_channel_frozen_since_the_vehicle_stood_is_told_once_the_others_move() -> None:
    sensed = np.concatenate([np.repeat(lively(1), 500, axis=1), lively(500)], axis=1)
    row = TRAVEL.start + 2
    sensed[row] = sensed[row, 0]
    kind = passed(sensed, Intake(stuck_after=0.1, **ALONE))[1]
    first = int(np.argmax(kind[row, :, 0] == STUCK))
    assert 500 < first < 600  # shafts need some ticks to move 10 mm on average
    assert not np.delete(kind, row, axis=0).any()


def test_a_standing_vehicle_has_no_stuck_channel() -> None:
    sensed = np.repeat(lively(1), 500, axis=1)
    assert not passed(sensed, Intake(stuck_after=0.1))[1].any()


def test_coarse_sensors_on_a_smooth_road_are_not_stuck() -> None:
    """Travel on a grid of half a millimetre that hardly moves, as over a bus: nothing is stuck."""
    sensed = lively(2000)
    travel = 0.1 + 0.0009 * np.sin(2 * np.pi * 0.5 * np.arange(2000) * DT)
    sensed[TRAVEL] = (np.round(travel / 5e-4) * 5e-4)[None, :, None]
    assert not passed(sensed)[1].any()


def test_a_few_moving_channels_do_not_make_the_others_stuck() -> None:
    """A standing vehicle with its engine shaking two of ten lively channels: the other eight are at rest, not broken."""
    sensed = lively(500)
    for name in ("shaft_travel", "specific_force_x", "specific_force_y", "roll_rate", "yaw_rate"):
        sensed[CONTROLLER_LAYOUT.rows[name]] = sensed[CONTROLLER_LAYOUT.rows[name], :1]
    assert not passed(sensed, Intake(stuck_after=0.1, **ALONE))[1].any()


def test_channels_that_give_nothing_do_not_count_as_moving() -> None:
    """Else a standing vehicle with a broken bus would have all its other channels called stuck."""
    sensed = np.repeat(lively(1), 500, axis=1)
    for name in ("specific_force_x", "specific_force_y", "specific_force_z", "roll_rate", "pitch_rate", "yaw_rate"):
        sensed[CONTROLLER_LAYOUT.rows[name]] = np.nan
    assert not passed(sensed, Intake(stuck_after=0.1))[1][TRAVEL].any()


@pytest.mark.parametrize("spike", [np.inf, 1e9, 0.5])
def test_spikes_of_one_travel_do_not_make_the_others_stuck(spike: float) -> None:
    """Of a standing vehicle with sensors that give the same to the bit."""
    sensed = np.repeat(lively(1), 1500, axis=1)
    sensed[TRAVEL.start, 100:500:5] = spike
    kind = passed(sensed, Intake(stuck_after=0.1))[1]
    assert not np.delete(kind, TRAVEL.start, axis=0).any()


def test_a_quiet_channel_such_as_the_brake_is_never_stuck() -> None:
    sensed = lively(400)
    sensed[CONTROLLER_LAYOUT.rows["brake"]] = 0.0
    sensed[CONTROLLER_LAYOUT.rows["steer_angle"]] = 0.1
    assert not passed(sensed, Intake(stuck_after=0.1, **ALONE))[1].any()


def test_a_yaw_gyro_rests_while_nobody_steers() -> None:
    """A perfect gyro on a straight lane gives 0 to the bit."""
    sensed = lively(400)
    sensed[YAW] = 0.0
    assert passed(sensed, Intake(stuck_after=0.1, **ALONE))[1][YAW].any()
    sensed[CONTROLLER_LAYOUT.rows["steer_angle"]] = 0.0
    assert not passed(sensed, Intake(stuck_after=0.1, **ALONE))[1].any()


@pytest.mark.parametrize(("speed", "told"), [(8.0, True), (0.0, False)])
def test_a_wheel_speed_is_stuck_when_the_other_wheels_change_theirs_unless_it_is_locked(speed: float, told: bool) -> None:
    sensed = lively(1000)
    sensed[WHEEL, :, 0] = 10.0 + 3.0 * np.sin(np.arange(1000) * DT * 2.0) + np.arange(4).reshape(-1, 1) * 0.1
    sensed[WHEEL.start + 3] = speed
    assert bool((passed(sensed, Intake(**ALONE))[1][WHEEL.start + 3] == STUCK).any()) == told


def test_a_stuck_channel_is_believed_again_when_it_moves() -> None:
    sensed = lively(400)
    row = YAW
    sensed[row, 50:200] = sensed[row, 50]
    kind = passed(sensed, Intake(stuck_after=0.1, **ALONE))[1]
    np.testing.assert_array_equal(kind[row, :, 0], [BELIEVED] * 100 + [STUCK] * 100 + [BELIEVED] * 200)


def test_a_channel_is_lost_after_its_time_and_no_longer_after_another() -> None:
    sensed = lively(100)
    sensed[YAW, 10:40] = np.nan
    lost = passed(sensed, Intake(fault_after=0.01, fault_clears=0.02, **ALONE))[2]
    # bad from tick 10 for more than 10 ms: lost at 15; good from tick 40 for more than 20 ms: back at 50
    np.testing.assert_array_equal(lost[YAW, :, 0], [0.0] * 15 + [1.0] * 35 + [0.0] * 50)
    assert lost.sum() == 35


@pytest.mark.parametrize(("after", "clears", "expected"), [(0.0, 0.02, (10, 50)), (0.01, 0.0, (15, 40)), (0.0, 0.0, (10, 40))])
def test_either_time_may_be_nothing(after: float, clears: float, expected: tuple[int, int]) -> None:
    sensed = lively(100)
    sensed[YAW, 10:40] = np.nan
    lost = passed(sensed, Intake(fault_after=after, fault_clears=clears, **ALONE))[2][YAW, :, 0]
    np.testing.assert_array_equal(np.flatnonzero(np.diff(lost)) + 1, expected)


def test_a_short_gap_is_no_loss_but_gaps_all_the_time_are() -> None:
    sensed = lively(2000)
    sensed[YAW, 100:104] = np.nan
    sensed[TRAVEL.start, 5::10] = np.nan  # one of ten: fault_after over fault_clears is a tenth
    sensed[TRAVEL.start + 1, 5::4] = np.nan
    sensed[TRAVEL.start + 2, 5::20] = np.nan
    lost = passed(sensed, Intake(fault_after=0.01, fault_clears=0.1, **ALONE))[2]
    assert not lost[YAW].any()
    assert not lost[TRAVEL.start + 2].any()
    assert lost[TRAVEL.start + 1, 200:].all()


WILD = st.one_of(st.floats(-100, 100), st.sampled_from([np.nan, np.inf, -np.inf, 0.0, 1e300]))


@given(sensed=arrays(np.float64, (ROWS, 6, 2), elements=WILD, fill=WILD), cut=st.integers(1, 5), compare=st.sampled_from([0.0, 1.0]))
def test_whatever_comes_what_passes_is_finite_in_range_and_the_same_in_any_cut(sensed: Array, cut: int, compare: float) -> None:
    intake = Intake(compare=compare)
    clean, kind, lost = passed(sensed, intake)
    low, high = (CONTROLLER_LAYOUT.per_row(name).reshape(-1, 1, 1) for name in ("low", "high"))
    assert np.isfinite(clean).all()
    assert ((clean >= low) & (clean <= high)).all()
    assert np.isin(kind, (BELIEVED, MISSING, OUT_OF_RANGE, JUMPED, STUCK, DISAGREES)).all()
    assert np.isin(lost, (0.0, 1.0)).all()
    np.testing.assert_array_equal(clean[kind == BELIEVED], sensed[kind == BELIEVED])
    rest = np.broadcast_to(CONTROLLER_LAYOUT.per_row("rest").reshape(-1, 1, 1), clean.shape)
    seen = np.cumsum(kind == BELIEVED, axis=1) > 0
    np.testing.assert_array_equal(clean[~seen], rest[~seen])
    for one, other in zip(passed(sensed, intake, cuts=(0, cut, 6)), (clean, kind, lost), strict=True):
        np.testing.assert_array_equal(one, other)


def test_cases_have_their_own_parameters_and_do_not_mix() -> None:
    sensed = lively(300, 2)
    sensed[TRAVEL.start, 50:] = sensed[TRAVEL.start, 50]
    both = passed(sensed, Intake(stuck_after=np.array([0.1, 0.2]).reshape(1, 1, 2), compare=1.0))  # type: ignore[arg-type]
    for case, after in enumerate((0.1, 0.2)):
        alone = passed(np.ascontiguousarray(sensed[:, :, case : case + 1]), Intake(stuck_after=after))
        for one, other in zip(both, alone, strict=True):
            np.testing.assert_array_equal(one[:, :, case], other[:, :, 0])


def test_many_cases_are_many_single_ones() -> None:
    """Many are kept with room between them."""
    one = lively(300)
    one[TRAVEL.start, 50:] = one[TRAVEL.start, 50]
    one[YAW, 100:150] = np.nan
    many = np.repeat(one, 70, axis=2)
    many[:, :, 33] = lively(300)[:, :, 0]
    for together, alone, good in zip(passed(many, Intake()), passed(one, Intake()), passed(lively(300), Intake()), strict=True):
        np.testing.assert_array_equal(together[:, :, 33], good[:, :, 0])
        np.testing.assert_array_equal(np.delete(together, 33, axis=2), np.repeat(alone, 69, axis=2))


def test_the_rest_value_of_every_signal_is_one_it_would_believe() -> None:
    for signal in SIGNALS.values():
        assert signal.low <= signal.rest <= signal.high, signal.name
