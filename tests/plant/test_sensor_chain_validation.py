"""Each part of the sensor chain against closed form."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import cont2discrete

from dualduty.signals import CONTROLLER_LAYOUT
from dualduty.trace import Case
from dualduty.units import STANDARD_GRAVITY
from plant.sensor_chain import SensorChain, filter_taps
from plant.sensors import Mounting, SensorError, Sensors

Array = NDArray[np.float64]

DT = 0.002
CASES = (Case("lane", "one", "dash", 1),)


def given(error: SensorError, felt: Array, dt: float = DT) -> Array:
    """What a travel sensor gives, (time,)."""
    stack = np.zeros((CONTROLLER_LAYOUT.size, len(felt), 1))
    stack[0, :, 0] = felt
    return SensorChain(Sensors({"shaft_travel": error}), CASES, dt).read(stack)[0, :, 0]


@pytest.mark.validates("first-order lag: step response 1 - exp(-t / tau), 63.2 % at tau = 1 / (2 pi f); closed form")
def test_a_first_order_lag_follows_a_step() -> None:
    # A sampled step is, for a filter that draws straight lines, a ramp one tick long: its middle is the step.
    dt, corner_hz = 1e-4, 8.0
    after = (np.arange(2000) - 9.5) * dt
    out = given(SensorError(corner_hz=corner_hz), np.where(after > 0.0, 1.0, 0.0), dt)
    lag = 1.0 / (2.0 * np.pi * corner_hz)
    wanted = np.where(after > 0.0, 1.0 - np.exp(-after / lag), 0.0)
    # atol: a ramp of one tick for a step differs by (dt / tau)² / 24 = 1e-6; measured 1.05e-6
    np.testing.assert_allclose(out[11:], wanted[11:], atol=2e-6)
    assert np.interp(lag, after, out) == pytest.approx(0.632, abs=1e-3)


@pytest.mark.validates("a first-order lag follows a ramp late by tau, exactly, once settled; closed form")
@pytest.mark.parametrize("corner_hz", [5.0, 80.0, 200.0])
def test_a_lag_follows_a_ramp_late_by_its_time_constant(corner_hz: float) -> None:
    time: Array = DT * np.arange(800, dtype=float)
    late = time[-1] - given(SensorError(corner_hz=corner_hz), time)[-1]
    assert late == pytest.approx(1.0 / (2.0 * np.pi * corner_hz), rel=1e-9)  # also where the corner is near the tick rate


@pytest.mark.validates("gain 1 / sqrt(1 + (f / fc)^(2 n)); Butterworth, 'On the theory of filter amplifiers', 1930, from memory")
@pytest.mark.parametrize("order", [1, 2])
@pytest.mark.parametrize("hz", [5.0, 20.0, 60.0])
def test_gain_over_frequency(order: int, hz: float) -> None:
    dt, corner_hz = 2e-4, 20.0
    time = dt * np.arange(10000)
    out = given(SensorError(corner_hz=corner_hz, order=order), np.sin(2.0 * np.pi * hz * time), dt)[5000:]  # 1 s: whole periods
    gain = 2.0 * np.abs(np.mean(out * np.exp(-2j * np.pi * hz * time[5000:])))
    # rel: straight lines between ticks lose (pi f dt)² / 3 = 5e-4 at 60 Hz
    assert gain == pytest.approx(1.0 / np.sqrt(1.0 + (hz / corner_hz) ** (2 * order)), rel=1e-3)


@pytest.mark.validates("another way to the same filter: scipy.signal.cont2discrete(method='foh')")
@pytest.mark.parametrize("order", [1, 2])
@pytest.mark.parametrize("corner_hz", [1.0, 80.0, 240.0])
def test_taps_against_scipy(order: int, corner_hz: float) -> None:
    turning = 2.0 * np.pi * corner_hz
    poles = [1.0, turning] if order == 1 else [1.0, np.sqrt(2.0) * turning, turning**2]
    above, below, _ = cont2discrete(([turning**order], poles), DT, method="foh")  # type: ignore[call-overload]  # its stubs know floats only
    taps = filter_taps(corner_hz, order, DT)
    # atol: measured 3e-15
    np.testing.assert_allclose(taps[: order + 1], above.ravel(), atol=1e-14)
    np.testing.assert_allclose(taps[3 : 3 + order], below.ravel()[1:], atol=1e-14)


@pytest.mark.validates("a delay moves a signal along time and changes nothing else; straight between ticks; closed form")
@pytest.mark.parametrize("ticks", [0.25, 1.0, 2.0, 7.4])
def test_a_delay_is_exact_on_a_ramp(ticks: float) -> None:
    time: Array = DT * np.arange(60, dtype=float)
    out = given(SensorError(delay=ticks * DT), time)
    np.testing.assert_allclose(out[10:], time[10:] - ticks * DT, atol=1e-15)
    assert out[0] == 0.0


@pytest.mark.validates("delay by whole ticks gives the same numbers back")
def test_a_whole_delay_moves_bits() -> None:
    noise = np.random.default_rng(3).normal(size=100)
    out = given(SensorError(delay=3 * DT), noise)
    assert np.array_equal(out[3:], noise[:-3])
    assert (out[:3] == noise[0]).all()


@pytest.mark.validates("error of the grid: even over a step, grid²/12; Bennett, 'Spectra of quantized signals', 1948, from memory")
def test_variance_of_the_grid() -> None:
    even: Array = 0.2 + 0.1 * (0.6180339887 * np.arange(20000.0) % 1.0)
    wrong = given(SensorError(grid=1e-3), even) - even
    assert np.abs(wrong).max() <= 0.5e-3 * (1 + 1e-9)
    # rel: steps of the golden ratio fill 100 grid steps evenly; measured 8e-6
    assert wrong.var() == pytest.approx(1e-6 / 12.0, rel=1e-4)
    assert abs(wrong.mean()) < 1e-5


@pytest.mark.validates("independent parts add as variances: noise² + grid²/12; closed form")
def test_noise_and_grid_add_as_squares() -> None:
    out = given(SensorError(noise=1e-3, grid=1e-3), np.full(20000, 0.1))
    # rel: the variance of 20000 numbers is known to 1 %, four times that; the formula itself holds to 1e-8 from noise of a grid step on
    assert out.var() == pytest.approx(1e-6 + 1e-6 / 12.0, rel=0.04)


@pytest.mark.validates("saturation: what lies in the range is unchanged, what lies beyond is its end; by definition")
def test_saturation() -> None:
    ramp = np.linspace(-2.0, 2.0, 101)
    assert np.array_equal(given(SensorError(low=-0.5, high=1.0), ramp), np.clip(ramp, -0.5, 1.0))


@pytest.mark.validates("sample and hold every T: what was at floor(t / T) T; closed form")
def test_sample_and_hold() -> None:
    tick = np.arange(100)
    assert np.array_equal(given(SensorError(period=5 * DT), tick.astype(float)), 5.0 * (tick // 5))


@pytest.mark.validates("a box at rest that sits askew feels g times sine and cosine of its angles; closed form")
def test_a_box_that_sits_askew() -> None:
    rows = [CONTROLLER_LAYOUT.rows[f"specific_force_{axis}"].start for axis in "xyz"]
    felt = np.zeros((CONTROLLER_LAYOUT.size, 1, 1))
    felt[rows[2]] = STANDARD_GRAVITY
    rates = [CONTROLLER_LAYOUT.rows[name].start for name in ("roll_rate", "pitch_rate", "yaw_rate")]
    felt[rates[2]] = 0.5
    roll, pitch = 0.04, 0.03
    rolled = SensorChain(Sensors(mounting=Mounting(roll=roll)), CASES, DT).read(felt)
    pitched = SensorChain(Sensors(mounting=Mounting(pitch=pitch)), CASES, DT).read(felt)
    # Right side down: the box's left points up a little. Nose down: its nose points down, against what gravity's reaction pushes.
    along = np.array([0.0, np.sin(roll), np.cos(roll)])
    np.testing.assert_allclose(rolled[rows, 0, 0], STANDARD_GRAVITY * along, rtol=1e-12)
    np.testing.assert_allclose(rolled[rates, 0, 0], 0.5 * along, rtol=1e-12)
    np.testing.assert_allclose(pitched[rows, 0, 0], STANDARD_GRAVITY * np.array([-np.sin(pitch), 0.0, np.cos(pitch)]), rtol=1e-12)
