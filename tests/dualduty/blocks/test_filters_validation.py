"""Filters against an independent implementation and closed forms."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import signal

from dualduty.blocks import derivative, fade, leaky_integral, low_pass, peak_hold, running_rms, slew_limit
from dualduty.memory import Memory

Array = NDArray[np.float64]
Run = Callable[..., Array]
DT = 0.01
HZ = 2.5


def _wave() -> Array:
    return np.cumsum(np.random.default_rng(5).normal(0.0, 1.0, (4, 300, 2)), axis=1)


def _gain() -> float:
    return float(1.0 - np.exp(-2 * np.pi * HZ * DT))


@pytest.mark.validates("closed form: first-order lag, exact for an input held over each step; run by scipy.signal.lfilter")
def test_low_pass_against_lfilter(run: Run) -> None:
    a = _gain()
    wave = _wave()
    zi = (1.0 - a) * wave[:, :1]  # settled on the first sample
    expected, _ = signal.lfilter([a], [1.0, a - 1.0], wave, axis=1, zi=zi)
    # rtol: 300 ticks, two roundings each, of values up to 30: measured 4e-14 absolute
    np.testing.assert_allclose(run(lambda x, m: low_pass(x[0], HZ, m("b")), (wave,)), expected, rtol=0, atol=2e-13)


@pytest.mark.validates("closed form: y' = w (u - y), unit step: y = 1 - exp(-w t)")
def test_low_pass_step_response_is_exact(run: Run) -> None:
    step = np.ones((1, 200, 1))
    step[:, 0] = 0.0
    made = run(lambda x, m: low_pass(x[0], HZ, m("b")), (step,))[0, :, 0]
    # rtol: rounding over 200 ticks, measured 1e-15
    np.testing.assert_allclose(made, 1.0 - np.exp(-2 * np.pi * HZ * DT * np.arange(200)), rtol=1e-13, atol=1e-14)


@pytest.mark.validates("closed form: at its corner frequency a first-order lag passes 1/sqrt(2) of the amplitude")
def test_low_pass_is_3_db_down_at_its_corner(run: Run) -> None:
    dt = 1e-4
    time = np.arange(0, 4.0, dt)
    wave = np.sin(2 * np.pi * HZ * time).reshape(1, -1, 1)
    made = run(lambda x, m: low_pass(x[0], HZ, m("b")), (wave,), dt=dt)[0, time > 2.0, 0]
    # rel: of the order of (w dt)^2 = 2.5e-6; measured 1.0e-7
    assert np.sqrt(2 * np.mean(made**2)) == pytest.approx(np.sqrt(0.5), rel=5e-7)


@pytest.mark.validates("closed form: derivative of the first-order lag; run by scipy.signal.lfilter")
def test_derivative_against_lfilter(run: Run) -> None:
    a = _gain()
    wave = _wave()
    settled, _ = signal.lfilter([a], [1.0, a - 1.0], wave, axis=1, zi=(1.0 - a) * wave[:, :1])
    expected = np.diff(settled, axis=1, prepend=settled[:, :1]) / DT
    # atol: differences of values up to 30 over 0.01 s, measured 4e-12
    np.testing.assert_allclose(run(lambda x, m: derivative(x[0], HZ, m("b")), (wave,)), expected, rtol=0, atol=2e-11)


@pytest.mark.validates("closed form: the lag of a ramp settles parallel to it, so its rate is the slope")
def test_derivative_of_a_ramp_settles_on_its_slope_and_starts_at_zero(run: Run) -> None:
    ramp = (3.0 + 0.7 * DT * np.arange(400)).reshape(1, -1, 1)
    made = run(lambda x, m: derivative(x[0], HZ, m("b")), (ramp,))[0, :, 0]
    assert made[0] == 0.0
    assert made[-1] == pytest.approx(0.7, rel=1e-11)  # exp(-2 pi 2.5 4) = 5e-28; rounding of 3 / 0.01 measured 3e-14


@pytest.mark.validates("closed form: y' = u - w y, held input: exp(-w dt) and (1 - exp(-w dt)) / w; run by scipy.signal.lfilter")
def test_leaky_integral_against_lfilter(run: Run) -> None:
    w = 2 * np.pi * 0.4
    wave = _wave()
    expected = signal.lfilter([-np.expm1(-w * DT) / w], [1.0, -np.exp(-w * DT)], wave, axis=1)
    # atol: measured 3e-15
    np.testing.assert_allclose(run(lambda x, m: leaky_integral(x[0], 0.4, m("b")), (wave,)), expected, rtol=0, atol=5e-14)


@pytest.mark.validates("closed form: a constant rate u settles at u / w")
def test_leaky_integral_settles(run: Run) -> None:
    made = run(lambda x, m: leaky_integral(x[0], 0.4, m("b")), (np.full((1, 2000, 1), 0.6),))[0, -1, 0]
    assert made == pytest.approx(0.6 / (2 * np.pi * 0.4), rel=1e-12)  # exp(-50) = 2e-22; rounding


@pytest.mark.validates("closed form: a leak of nothing is the plain sum, rate times step")
def test_an_integral_without_leak_is_the_sum(run: Run) -> None:
    wave = _wave()
    made = run(lambda x, m: leaky_integral(x[0], 0.0, m("b")), (wave,))
    np.testing.assert_allclose(made, np.cumsum(wave, axis=1) * DT, rtol=0, atol=1e-12)  # rounding of sums up to 40


@pytest.mark.validates("ISO 2631-1:1997, 6.3.1, exponential running r.m.s.: a sine of amplitude A settles at A / sqrt(2)")
def test_running_rms_of_a_sine(run: Run) -> None:
    time = np.arange(0, 20.0, DT)
    wave = 2.0 * np.sin(2 * np.pi * 5.0 * time).reshape(1, -1, 1)
    made = run(lambda x, m: running_rms(x[0], 1.0, m("b")), (wave,))[0, time > 10.0, 0]
    # rtol: what is left of the ripple at 10 Hz through 1 s, 1 / (2 pi 10) / 2 = 0.8 %, measured 0.8 %
    np.testing.assert_allclose(made, np.sqrt(2.0), rtol=0.012)
    assert made.mean() == pytest.approx(np.sqrt(2.0), rel=1e-4)


@pytest.mark.validates("ISO 2631-1:1997, 6.3.1, exponential running r.m.s.: after the input stops, decay with half the rate")
def test_running_rms_starts_settled_and_decays_with_its_time(run: Run) -> None:
    wave = np.zeros((1, 101, 1))
    wave[:, 0] = -3.0
    made = run(lambda x, m: running_rms(x[0], 0.25, m("b")), (wave,))[0, :, 0]
    np.testing.assert_allclose(made, 3.0 * np.exp(-DT * np.arange(101) / 0.25 / 2), rtol=1e-12)  # rounding


@pytest.mark.validates("closed form: exponential fading, 1/e after the time constant")
def test_peak_hold_fades(run: Run) -> None:
    level = np.array([0.0, 2.0, *np.zeros(60)]).reshape(1, -1, 1)
    made = run(lambda x, m: peak_hold(x[0], 0.3, m("b")), (level,))[0, :, 0]
    assert made[31] == pytest.approx(2.0 / np.e, rel=1e-12)  # 30 ticks after the peak; rounding
    assert made[1] == 2.0


@pytest.mark.validates("closed form: a step reached in (1 - 0) / rate, either way")
def test_slew_limit_takes_the_stated_time(run: Run) -> None:
    step = np.concatenate([np.zeros(1), np.ones(30), np.zeros(30)]).reshape(1, -1, 1)
    made = run(lambda x, m: slew_limit(x[0], 10.0, 5.0, m("b")), (step,))[0, :, 0]
    rise = np.minimum(np.arange(31) * 0.1, 1.0)
    fall = np.maximum(1.0 - np.arange(1, 31) * 0.05, 0.0)
    np.testing.assert_allclose(made, [*rise, *fall], rtol=0, atol=1e-14)  # rounding of 20 sums


@pytest.mark.validates("closed form: no limit follows at once")
def test_slew_without_limit_follows_and_starts_on_the_first_sample(run: Run) -> None:
    wave = _wave()
    np.testing.assert_array_equal(run(lambda x, m: slew_limit(x[0], np.inf, np.inf, m("b")), (wave,)), wave)


@pytest.mark.validates("order of convergence: the lag of a smooth wave converges with the step, first order")
def test_low_pass_converges_first_order() -> None:
    errors = []
    for dt in (4e-3, 2e-3, 1e-3):
        time = np.arange(0, 1.0 + dt / 2, dt)
        memory = Memory(dt)
        made = low_pass(np.sin(2 * np.pi * time).reshape(1, -1, 1), HZ, memory("b"))[0, -1, 0]
        w, v = 2 * np.pi * HZ, 2 * np.pi
        exact = w / (w * w + v * v) * (w * np.sin(v) - v * np.cos(v) + v * np.exp(-w))
        errors.append(abs(made - exact))
    orders = np.log2(np.array(errors[:-1]) / errors[1:])
    np.testing.assert_allclose(orders, 1.0, atol=0.03)  # measured 1.00 and 1.00


@pytest.mark.validates("closed form: a fade is a slew limit whose rates are one over its times")
def test_fade_is_a_slew_limit(run: Run) -> None:
    gate = (_wave() > 0.0).astype(float)
    one = run(lambda x, m: fade(x[0], 0.2, 0.5, m("b")), (gate,))
    other = run(lambda x, m: slew_limit(x[0], 5.0, 2.0, m("b")), (gate,))
    np.testing.assert_allclose(one, other, rtol=0, atol=1e-14)  # 0.01 / 0.2 and 5 * 0.01 may differ in the last bit
