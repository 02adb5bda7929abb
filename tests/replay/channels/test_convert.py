"""From what was recorded to SI: curve, gain, shift, button; no number stays none."""

from __future__ import annotations

import numpy as np
import pytest

from replay.channels.channel_map import Channel
from replay.channels.convert import to_si

CURVE = ((0.5, 0.0), (1.0, 40.0), (4.5, 300.0))


def converted(recorded: list[float], channel: Channel) -> list[float]:
    out = np.full((3, len(recorded)), -1.0)
    to_si(np.array(recorded), channel, out[1])  # a row of a larger array, as in a log
    assert (out[[0, 2]] == -1.0).all()
    return out[1].tolist()  # type: ignore[no-any-return]


@pytest.mark.parametrize("curve", [CURVE, CURVE[::-1]])
def test_within_its_ends_a_curve_is_what_the_library_interpolates(curve: tuple[tuple[float, float], ...]) -> None:
    recorded = np.linspace(0.5, 4.5, 401)
    at, value = zip(*CURVE, strict=True)
    # rtol: the same products in another order, 2e-15 measured; atol: at the end that reads 0
    np.testing.assert_allclose(
        converted(recorded.tolist(), Channel("shaft_travel", 0, ("v",), curve=curve)),
        np.interp(recorded, at, value),
        rtol=1e-14,
        atol=1e-12,
    )


def test_beyond_its_ends_the_last_slope_is_held() -> None:
    below, above = converted([0.25, 5.0], Channel("shaft_travel", 0, ("v",), curve=CURVE))
    assert below == pytest.approx(-0.25 * 80.0)  # 40 over half a volt
    assert above == pytest.approx(300.0 + 0.5 * 260.0 / 3.5)


def test_the_curve_comes_before_gain_and_shift() -> None:
    (value,) = converted([1.0], Channel("shaft_travel", 0, ("v",), gain=-1e-3, shift=0.3, curve=CURVE))
    assert value == pytest.approx(0.3 - 0.040)


@pytest.mark.parametrize("curve", [(), CURVE])
def test_what_is_no_number_is_no_value(curve: tuple[tuple[float, float], ...]) -> None:
    values = converted([np.nan, np.inf, -np.inf, 1.7e308, 1.0], Channel("shaft_travel", 0, ("v",), gain=1e10, curve=curve))
    assert np.isnan(values).tolist() == [True, True, True, True, False]


def test_bytes_that_were_never_a_number_are_no_value() -> None:
    """A square of them would be infinite: every figure after it."""
    values = converted([1e300, -3.4e38, 2e5, np.nan], Channel("specific_force_z", 0, ("z",), gain=9.8))
    assert np.isnan(values).tolist() == [True, True, False, True]


def test_a_button_is_pressed_above_its_threshold() -> None:
    values = converted([0.0, 2.5, 2.6, 5.0, np.nan], Channel("marker", 0, ("btn",), on_above=2.5))
    assert values[:4] == [0.0, 0.0, 1.0, 1.0]
    assert np.isnan(values[4])
