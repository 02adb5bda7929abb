"""The sensor chain: independence of cutting, cases and candidates, and what each part does to a channel."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from dualduty.errors import BadInput
from dualduty.signals import CONTROLLER_LAYOUT, SIGNALS, Layout
from dualduty.trace import Case
from plant.faults import Fault
from plant.sensor_chain import SensorChain
from plant.sensors import INSTRUMENTS, TYPICAL, Mounting, SensorError, Sensors

Array = NDArray[np.float64]

HOUSE = Path(__file__).resolve().parents[2]
DT = 0.002
CASES = (Case("lane", "one", "dash", 1), Case("lane", "two", "dash", 1), Case("lane", "one", "dash", 2))
TRAVEL = CONTROLLER_LAYOUT.rows["shaft_travel"]
FAULTS = (
    Fault("swapped", "shaft_travel", "front_left", "rear_right", start=0.3),
    Fault("inverted", "wheel_speed", "left", duration=0.4),
    Fault("spike", "roll_rate", size=1.0, every=0.05),
    Fault("drift", "shaft_travel", "front", start=0.2, growth=0.05),
    Fault("stuck", "yaw_rate", start=0.1, duration=0.3),
    Fault("dropout", "pitch_rate", start=0.5, duration=0.1, seed=2),
)


def motion(ticks: int, cases: int, layout: Layout = CONTROLLER_LAYOUT) -> Array:
    """Stands in for what a plant feels: every row swings by itself within a sensor's range."""
    row, tick, case = np.ogrid[: layout.size, :ticks, :cases]
    return np.asarray(0.3 + 0.2 * np.sin(0.05 * (1 + row % 5) * tick + row + 0.3 * case))


def busy() -> Sensors:
    """Sensors with every error and every fault at once."""
    errors = {name: replace(error, dropout=0.01, drift=1e-3) for name, error in TYPICAL.items()}
    return Sensors(errors, 5, FAULTS, Mounting(roll=0.02, pitch=-0.01, yaw=0.03))


def one(error: SensorError, felt: Array, channel: str = "shaft_travel", **more: Any) -> Array:
    """What one channel gives, (corner, time), for a (time,) input at all its corners."""
    rows = CONTROLLER_LAYOUT.rows[channel]
    stack = np.zeros((CONTROLLER_LAYOUT.size, len(felt), 1))
    stack[rows] = felt[:, None]
    out: Array = SensorChain(Sensors({channel: error}, **more), CASES[:1], DT).read(stack)[rows, :, 0]
    return out


@pytest.mark.parametrize("parts", [[1] * 700, [1, 255, 1, 300, 143], [700 - 257, 257]])
def test_the_same_bits_however_time_is_cut(parts: list[int]) -> None:
    felt = motion(700, 3)
    whole = SensorChain(busy(), CASES, DT).read(felt)
    chain, ends = SensorChain(busy(), CASES, DT), np.cumsum([0, *parts])
    cut = np.concatenate([chain.read(felt[:, first:end]) for first, end in pairwise(ends)], axis=1)
    assert np.array_equal(whole, cut, equal_nan=True)


def test_section_and_seed_decide_and_not_the_candidate() -> None:
    felt = np.repeat(motion(600, 1), 3, axis=2)
    out = SensorChain(busy(), CASES, DT).read(felt)
    assert np.array_equal(out[..., 0], out[..., 1], equal_nan=True)
    assert not np.array_equal(out[TRAVEL, :, 0], out[TRAVEL, :, 2])
    alone = SensorChain(busy(), CASES[2:], DT).read(felt[..., 2:])
    assert np.array_equal(alone[..., 0], out[..., 2], equal_nan=True)


def test_a_channel_keeps_its_random_numbers_whatever_the_others_do() -> None:
    felt = motion(300, 3)
    alone = SensorChain(Sensors({"yaw_rate": TYPICAL["yaw_rate"]}), CASES, DT).read(felt)
    among = SensorChain(Sensors.typical(), CASES, DT).read(felt)
    rows = CONTROLLER_LAYOUT.rows["yaw_rate"]
    assert np.array_equal(alone[rows], among[rows])


def test_no_two_channels_share_random_numbers() -> None:
    noisy = SensorError(noise=0.1, offset_spread=0.1)
    rates = ("roll_rate", "pitch_rate", "yaw_rate")
    felt = np.zeros((CONTROLLER_LAYOUT.size, 50, 3))
    out = SensorChain(Sensors(dict.fromkeys(rates, noisy)), CASES, DT).read(felt)
    assert len(np.unique([out[CONTROLLER_LAYOUT.rows[name].start, :, 0] for name in rates])) == 150


@pytest.mark.parametrize("order", [1, 2])
def test_a_filter_starts_settled_on_what_it_first_feels(order: int) -> None:
    # atol: the sum of rounded taps; measured 1e-16
    np.testing.assert_allclose(one(SensorError(corner_hz=20.0, order=order), np.full(50, 0.2)), 0.2, rtol=0.0, atol=1e-15)


def test_without_errors_nothing_changes() -> None:
    felt = motion(50, 3)
    felt.setflags(write=False)
    assert np.array_equal(SensorChain(Sensors(), CASES, DT).read(felt), felt)


def test_instrumentation_goes_through_the_same_chain() -> None:
    layout = Layout((SIGNALS["hub_specific_force_z"], SIGNALS["seat_specific_force_z"], SIGNALS["wheel_load"]))
    felt = np.repeat(10.0 * motion(400, 1, layout), 3, axis=2)
    out = SensorChain(Sensors({**TYPICAL, **INSTRUMENTS}), CASES, 1e-3, layout).read(felt)
    assert np.array_equal(out[layout.rows["wheel_load"]], felt[layout.rows["wheel_load"]])
    assert (out[layout.rows["hub_specific_force_z"]] != felt[layout.rows["hub_specific_force_z"]]).mean() > 0.99
    assert np.array_equal(out[..., 0], out[..., 1])


def test_what_is_known_of_this_vehicle_comes_by_corner() -> None:
    out = one(SensorError(offset=(0.01, 0.0, -0.02, 0.0), gain=(1.0, 1.1, 1.0, 1.0), drift=0.5), np.full(11, 0.2))
    np.testing.assert_allclose(out[:, 0], [0.21, 0.22, 0.18, 0.2], rtol=1e-12)
    np.testing.assert_allclose(out[:, 10] - out[:, 0], 0.5 * 10 * DT, rtol=1e-9)


def test_what_is_known_by_size_is_drawn_with_that_spread() -> None:
    cases = tuple(Case("lane", "one", "dash", seed) for seed in range(250))
    felt = np.zeros((CONTROLLER_LAYOUT.size, 2, 250))
    felt[TRAVEL] = 1.0
    for name in ("offset_spread", "gain_spread", "drift_spread"):
        error: dict[str, Any] = {name: 0.01}
        out = SensorChain(Sensors({"shaft_travel": SensorError(**error)}), cases, DT).read(felt)[TRAVEL]
        drawn = out[:, 1] - out[:, 0] if name == "drift_spread" else out[:, 0] - 1.0
        wanted = 0.01 * DT if name == "drift_spread" else 0.01
        assert abs(drawn.std() / wanted - 1.0) < 0.12, name  # 1000 draws: known to 2.3 %; five times that


def test_a_hit_beyond_the_range_is_cut_off_before_it_is_smoothed() -> None:
    hit = np.where(np.arange(40) == 10, 30.0, 0.0)
    error = SensorError(low=-16.0, high=16.0, corner_hz=80.0, order=2)
    cut = np.clip(hit, -16.0, 16.0)
    assert np.array_equal(one(error, hit), one(error, cut))
    assert 3.0 < one(error, hit).max() < 16.0


def test_neither_noise_nor_overshoot_leaves_the_range() -> None:
    noisy = one(SensorError(low=0.0, high=1.0, noise=0.3), np.tile([0.0, 1.0], 300))
    assert noisy.min() == 0.0
    assert noisy.max() == 1.0
    step = np.where(np.arange(60) > 5, 1.0, 0.0)
    assert one(SensorError(corner_hz=20.0, order=2), step).max() > 1.03
    assert one(SensorError(corner_hz=20.0, order=2, high=1.0), step).max() == 1.0


def test_a_slow_sensor_holds_its_sample_noise_and_gap_included() -> None:
    out = one(SensorError(noise=0.1, dropout=0.2, period=0.01), np.arange(600.0))
    samples = out.reshape(4, -1, 5)
    assert np.array_equal(samples, np.repeat(samples[:, :, :1], 5, axis=2), equal_nan=True)
    assert abs(np.isnan(samples[:, :, 0]).mean() - 0.2) < 0.09  # 480 samples: known to 0.018; five times that
    assert len(np.unique(samples[0, :, 0][~np.isnan(samples[0, :, 0])])) > 80


def test_a_period_that_is_no_whole_number_of_ticks_keeps_its_mean_rate() -> None:
    out = one(SensorError(period=0.0075), np.arange(1500.0))[0]
    assert len(np.unique(out)) == 1500 * DT / 0.0075
    assert set(np.diff(np.flatnonzero(np.diff(out)))) == {3, 4}


def test_what_leaves_a_sensor_lies_on_its_grid() -> None:
    out = SensorChain(Sensors.typical(), CASES, DT).read(motion(600, 3))
    for name, error in TYPICAL.items():
        steps = out[CONTROLLER_LAYOUT.rows[name]] / error.grid
        assert np.abs(steps - np.round(steps)).max() < 1e-9, name


def test_a_felt_of_another_shape_is_refused() -> None:
    with pytest.raises(BadInput, match=r"^sensors: felt is \(26, 4, 2\); expected \(26, time, 3\)$"):
        SensorChain(Sensors(), CASES, DT).read(np.zeros((26, 4, 2)))


PLAIN = """
import importlib.util, sys
import numpy as np, numba
assert numba.config.DISABLE_JIT
spec = importlib.util.spec_from_file_location("chain_under_test", sys.argv[1])
module = importlib.util.module_from_spec(spec); spec.loader.exec_module(module)
np.save(sys.argv[2], module.SensorChain(module.busy(), module.CASES, module.DT).read(module.motion(300, 3)))
"""


def test_compiled_and_plain_agree(tmp_path: Path) -> None:
    file = tmp_path / "plain.npy"
    done = subprocess.run(
        [sys.executable, "-c", PLAIN, __file__, str(file)], cwd=HOUSE, capture_output=True, text=True, check=False,
        env={**os.environ, "NUMBA_DISABLE_JIT": "1"},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    compiled = SensorChain(busy(), CASES, DT).read(motion(300, 3))
    # atol: the compiler may join a product and a sum into one rounding; no value came to lie on the edge of a grid step
    np.testing.assert_allclose(np.load(file), compiled, rtol=0.0, atol=1e-12)
