"""The shipped differentiator against others at the same lag, with the sensor's numbers."""

from __future__ import annotations

import numpy as np
import pytest

from tests.strategies.estimators.differentiators import AT_4_MS, NOISE, OTHERS, ROUGH, Measured, measured, slope, tracking
from tests.strategies.estimators.lane import DT, Driven, shown_rows

SHIPPED = "tracking filter, 45 Hz, as shipped"


@pytest.fixture(scope="module")
def compared(driven: Driven) -> dict[str, Measured]:
    """All differentiators."""
    return {name: measured(of, driven, ROUGH) for name, of in {**AT_4_MS, **OTHERS, SHIPPED: tracking(45.0)}.items()}


@pytest.mark.validates(
    "closed form: white noise s through a least-squares slope over n samples is s sqrt(12 / (n (n^2 - 1))) / dt; lag (n - 1) dt / 2"
)
def test_the_measuring_itself(driven: Driven) -> None:
    found = measured(slope(5), driven, ("iso_road",))
    assert found.noise == pytest.approx(NOISE * np.sqrt(12 / 120) / DT, rel=0.02)  # the grid adds 0.5 % of noise; 200,000 samples
    assert found.lag == pytest.approx(4.0, abs=1e-6)


@pytest.mark.validates("closed form: two poles at w, damped by d, lag by 2 d / w at low frequency, less half a tick for a sampled one")
def test_the_lag_of_two_poles(driven: Driven) -> None:
    found = measured(tracking(20.0), driven, ("iso_road",))
    # abs: the half tick is what sampling leaves at low corners; measured 10.24 ms
    assert found.lag == pytest.approx(np.sqrt(2) / (2 * np.pi * 20.0) * 1e3 - 0.5 * DT * 1e3, abs=0.1)


@pytest.mark.validates("law of nature: at one lag, noise and loss can be told apart by measuring both; measured here")
def test_at_the_same_lag_the_shipped_one_is_the_quietest_and_loses_least(compared: dict[str, Measured]) -> None:
    rivals = [compared[name] for name in AT_4_MS]
    assert all(one.lag == pytest.approx(4.0, abs=0.05) for one in rivals)
    ours = compared["tracking filter, 46 Hz"]
    for name in list(AT_4_MS)[:-1]:
        assert ours.noise < 0.85 * compared[name].noise  # the next best measures 0.82
        assert ours.left > compared[name].left
        assert ours.error < compared[name].error


@pytest.mark.validates("plant truth: shaft speed of a simulated lane with usual sensors")
def test_what_the_docstring_says(compared: dict[str, Measured]) -> None:
    assert compared[SHIPPED].noise == pytest.approx(0.0375, abs=0.0005)
    assert compared[SHIPPED].lag == pytest.approx(4.14, abs=0.02)


@pytest.mark.validates("snapshot: the table of docs/estimators.md is what is measured")
def test_the_table_of_the_document(compared: dict[str, Measured]) -> None:
    shown = shown_rows(compared)
    assert shown.keys() == compared.keys()
    for name, (noise, lag, left, error) in shown.items():
        came = compared[name]
        # half a last digit, and 2 % where the lane's last bits move with the processor
        assert (came.noise, came.lag, came.left * 100) == pytest.approx((noise, lag, left), abs=0.06, rel=0.02)
        assert came.error == pytest.approx(error, abs=0.0006, rel=0.02)
