"""What the rate of a log leaves open about a latency: closed form, and against waits drawn at random."""

from __future__ import annotations

import numpy as np
import pytest

from dualduty.errors import BadInput
from replay.marks.timing_uncertainty import timing_uncertainty


@pytest.mark.validates("closed form: the sum of two independent uniform waits, 5 ms and 2 ms")
def test_bound_and_deviation_of_200_hz_and_2_ms() -> None:
    found = timing_uncertainty(200.0, 0.002)
    assert found.mean == found.bound == pytest.approx(3.5e-3)
    assert found.deviation == pytest.approx(np.sqrt((25e-6 + 4e-6) / 12.0))  # 1.554 ms
    assert found.line == "a latency is known to within ±3.5 ms (standard deviation 1.6 ms)"


@pytest.mark.validates("closed form: variance of one uniform wait, h squared over 12")
def test_without_a_tick_one_sample_interval_is_left() -> None:
    found = timing_uncertainty(50.0, 0.0)
    assert (found.bound, found.deviation) == pytest.approx((0.01, 0.02 / np.sqrt(12.0)))


@pytest.mark.validates("law of large numbers: the waits as they are defined, drawn 200,000 times")
def test_what_is_drawn_has_that_mean_bound_and_deviation() -> None:
    random = np.random.default_rng(11)
    step, tick = 1.0 / 130.0, 0.002
    event, phase = random.uniform(0.0, 1.0, 200_000), random.uniform(0.0, tick, 200_000)
    sample = np.ceil(event / step) * step  # the first that shows it
    seen = np.ceil((sample - phase) / tick) * tick + phase  # the controller's next tick after it
    late, found = seen - event, timing_uncertainty(1.0 / step, tick)
    # tolerance: three standard errors of 200,000 draws, 0.0016 of the deviation for it, 0.0067 of it for the mean
    assert late.mean() == pytest.approx(found.mean, abs=0.0067 * found.deviation)
    assert late.std() == pytest.approx(found.deviation, rel=0.005)
    assert np.abs(late - found.mean).max() <= found.bound + 1e-12
    assert np.abs(late - found.mean).max() > 0.98 * found.bound


@pytest.mark.validates("no source: an input that can't be")
@pytest.mark.parametrize("given", [(0.0, 0.002), (-1.0, 0.002), (float("inf"), 0.002), (float("nan"), 0.002), (200.0, -0.001)])
def test_a_rate_that_cannot_be_is_refused(given: tuple[float, float]) -> None:
    with pytest.raises(BadInput, match="timing uncertainty: expected a rate above 0"):
        timing_uncertainty(*given)
