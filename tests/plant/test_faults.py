"""Faults put in on purpose: each is seen where and when it should be, and nowhere else."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from dualduty.errors import BadInput
from dualduty.signals import CONTROLLER_LAYOUT
from dualduty.trace import Case
from plant import sensor_kernel
from plant.faults import KINDS, Fault, power_losses, without_power
from plant.sensor_chain import SensorChain
from plant.sensors import SensorError, Sensors

Array = NDArray[np.float64]

DT = 0.002
CASES = (Case("whoops", "one", "dash", 1), Case("berm", "one", "dash", 1), Case("whoops", "two", "dash", 2))
TRAVEL = CONTROLLER_LAYOUT.rows["shaft_travel"]
YAW = CONTROLLER_LAYOUT.rows["yaw_rate"].start


def read(*faults: Fault, ticks: int = 100, errors: dict[str, SensorError] | None = None) -> tuple[Array, Array]:
    """What is felt and what is given: every row counts ticks, a thousand apart, half a thousand between cases."""
    row, tick, case = np.ogrid[: CONTROLLER_LAYOUT.size, :ticks, : len(CASES)]
    felt = np.asarray(1000.0 * (row + 1) + tick + 500.0 * case)
    return felt, SensorChain(Sensors(errors or {}, faults=faults), CASES, DT).read(felt)


def test_the_kernel_counts_kinds_as_they_are_listed() -> None:
    numbers = {kind: getattr(sensor_kernel, {"drift": "DRIFTING"}.get(kind, kind.upper())) for kind in KINDS if kind != "power_loss"}
    assert numbers == {kind: KINDS.index(kind) for kind in numbers}


def test_a_gap() -> None:
    felt, out = read(Fault("dropout", "shaft_travel", "rear", start=0.02, duration=0.03))
    gap = np.zeros(out.shape, bool)
    gap[2:4, 10:25] = True
    assert np.array_equal(np.isnan(out), gap)
    assert np.array_equal(out[~gap], felt[~gap])


def test_a_stuck_channel_holds_what_it_gave_last_and_comes_back() -> None:
    felt, out = read(Fault("stuck", "shaft_travel", "front_right", start=0.02, duration=0.1))
    assert (out[1, 10:60] == felt[1, 9:10]).all()
    assert np.array_equal(out[1, 60:], felt[1, 60:])
    assert np.array_equal(np.delete(out, 1, axis=0), np.delete(felt, 1, axis=0))
    felt, out = read(Fault("stuck", "yaw_rate"))
    assert (out[YAW] == felt[YAW, 0]).all()  # stuck from the start: at the first value


def test_a_stuck_channel_never_sticks_at_a_gap() -> None:
    gap, stuck = Fault("dropout", "yaw_rate", start=0.1, duration=0.02), Fault("stuck", "yaw_rate", start=0.12)
    felt, out = read(stuck, gap)
    assert np.isnan(out[YAW, 50:60]).all()
    assert (out[YAW, 60:] == felt[YAW, 49]).all()


def test_a_line_that_is_cut_gives_nothing_stuck_or_not() -> None:
    felt, out = read(Fault("stuck", "yaw_rate", start=0.02), Fault("dropout", "yaw_rate", start=0.1, duration=0.02))
    assert np.isnan(out[YAW, 50:60]).all()
    assert (out[YAW, 60:] == felt[YAW, 9]).all()


def test_spikes_are_single_ticks_of_their_size_at_their_rate() -> None:
    felt, out = read(Fault("spike", "yaw_rate", size=7.0, every=0.1, start=1.0), ticks=20000)
    wrong = (out - felt)[YAW]
    assert set(np.unique(wrong)) == {0.0, 7.0}
    assert not wrong[:500].any()
    # 390 expected over 39 s: known to 20; five times that
    assert np.abs((wrong > 0.0).sum(axis=0) - 390).max() < 100
    assert not np.array_equal(wrong[:, 0], wrong[:, 2])
    assert not (out - felt)[np.arange(len(felt)) != YAW].any()


def test_a_slow_sensor_gives_as_many_spikes_each_a_sample_long() -> None:
    slow = {"yaw_rate": SensorError(period=0.02)}
    fault = Fault("spike", "yaw_rate", size=0.5, every=0.2)
    _, out = read(fault, ticks=20000, errors=slow)
    wrong = out[YAW] % 1.0 == 0.5
    lengths = np.diff(np.flatnonzero(np.diff(np.r_[0, wrong[:, 0].astype(int), 0])))[::2]
    assert (lengths % 10 == 0).all()
    # 200 expected over 40 s: known to 14; five times that
    assert abs(wrong[:, 0].sum() / 10 - 200) < 70


def test_a_drift_grows_and_is_gone_afterwards() -> None:
    felt, out = read(Fault("drift", "shaft_travel", "front_left", start=0.02, duration=0.1, growth=3.0))
    ramp = np.where((np.arange(100) >= 10) & (np.arange(100) < 60), 3.0 * DT * (np.arange(100) - 10), 0.0)
    np.testing.assert_allclose((out - felt)[0, :, 0], ramp, atol=1e-11)
    assert np.array_equal(out[1:], felt[1:])


def test_swapped_plugs_exchange_what_is_looked_at_and_not_the_offsets() -> None:
    offsets = {"shaft_travel": SensorError(offset=(1.0, 2.0, 3.0, 4.0))}
    felt, out = read(Fault("swapped", "shaft_travel", "front_left", "rear_right", start=0.1), errors=offsets)
    assert np.array_equal(out[0, 50:], felt[3, 50:] + 1.0)
    assert np.array_equal(out[3, 50:], felt[0, 50:] + 4.0)
    assert np.array_equal(out[0, :50], felt[0, :50] + 1.0)
    assert np.array_equal(out[1], felt[1] + 2.0)


def test_a_sensor_the_wrong_way_round_keeps_its_offset() -> None:
    felt, out = read(Fault("inverted", "yaw_rate"), errors={"yaw_rate": SensorError(offset=2.0)})
    assert np.array_equal(out[YAW], 2.0 - felt[YAW])


def test_a_fault_comes_only_where_section_and_seed_say() -> None:
    felt, out = read(Fault("dropout", "yaw_rate", section="whoops"))
    assert np.isnan(out[YAW]).all(axis=0).tolist() == [True, False, True]
    felt, out = read(Fault("inverted", "yaw_rate", section="whoops", seed=2))
    assert (out[YAW] != felt[YAW]).all(axis=0).tolist() == [False, False, True]


def test_a_fault_that_no_case_has_is_refused() -> None:
    with pytest.raises(BadInput, match=r"^fault stuck yaw_rate: no case has section 'jump', seed -1; driven: berm \(seed 1\), whoops"):
        read(Fault("stuck", "yaw_rate", section="jump"))


def test_power_loss_takes_the_duties_of_its_corners() -> None:
    faults = (Fault("power_loss", corner="front", start=0.01, duration=0.01), Fault("power_loss", section="berm", start=0.016))
    losses = power_losses((*faults, Fault("stuck", "yaw_rate")), CASES, DT)
    latched = np.full((8, 1, 3), 0.4)
    assert without_power(losses, 4, latched) is latched
    front = np.isnan(without_power(losses, 5, latched))[:, 0]
    assert front.all(axis=1).tolist() == [True, True, False, False] * 2
    both = np.isnan(without_power(losses, 9, latched))[:, 0]
    assert both.sum(axis=0).tolist() == [4, 8, 4]
    later = without_power(losses, 10, latched)
    assert np.isnan(later).sum(axis=(0, 1)).tolist() == [0, 8, 0]
    assert (latched == 0.4).all()
    assert without_power(power_losses((), CASES, DT), 3, latched) is latched


@pytest.mark.parametrize(
    ("fields", "problem"),
    [
        ({"kind": "melted"}, "fault melted: expected a kind of dropout, stuck, .* came 'melted'"),
        ({"kind": "stuck"}, "fault stuck: no channel ''; expected one of shaft_travel, "),
        ({"kind": "stuck", "channel": "roll_angle"}, "fault stuck roll_angle: no channel 'roll_angle'"),
        ({"kind": "stuck", "channel": "yaw_rate", "corner": "front"}, "yaw_rate has no corners; expected no corner, came 'front'"),
        ({"kind": "stuck", "channel": "shaft_travel", "corner": "nose"}, "corner: expected one of front, rear, .* came 'nose'"),
        ({"kind": "stuck", "channel": "yaw_rate", "start": -1.0}, "start of 0 s or later and a duration above 0 s, came -1 s and inf s"),
        ({"kind": "stuck", "channel": "yaw_rate", "duration": 0.0}, "duration above 0 s, came 0 s and 0 s"),
        ({"kind": "stuck", "channel": "yaw_rate", "size": 1.0}, "fault stuck yaw_rate: has no size, came 1.0"),
        ({"kind": "spike", "channel": "yaw_rate", "size": 1.0}, "fault spike yaw_rate: expected every, came nothing"),
        ({"kind": "spike", "channel": "yaw_rate", "size": 1.0, "every": -2.0}, "a time between spikes above 0 s"),
        ({"kind": "drift", "channel": "yaw_rate"}, "expected growth, came nothing"),
        ({"kind": "swapped", "channel": "shaft_travel", "corner": "front_left"}, "expected with_corner, came nothing"),
        ({"kind": "swapped", "channel": "shaft_travel", "corner": "front", "with_corner": "rear"}, "two different corners, came 'front'"),
        ({"kind": "power_loss", "channel": "yaw_rate"}, "power is lost at valves, not at a channel; expected none, came 'yaw_rate'"),
    ],
)
def test_faults_that_make_no_sense(fields: dict[str, Any], problem: str) -> None:
    with pytest.raises(BadInput, match=problem):
        Fault(**fields)
