"""Reference speed of a sine, in closed form."""

from __future__ import annotations

import numpy as np
import pytest

from tests.strategies.estimators.lane import DT, plug_in, run


@pytest.mark.validates("closed form: the r.m.s. of half a sine of amplitude a is a / 2; a floor where nothing moves")
def test_a_sine_of_shaft_speed() -> None:
    wave = 0.8 * np.sin(2 * np.pi * 10.0 * DT * np.arange(2000))
    speed = np.stack([wave, 3.0 * np.maximum(wave, 0.0), 0.0 * wave, wave])[:, :, None]
    found = run(plug_in("ReferenceSpeed", time=1.0), {"shaft_speed": np.ascontiguousarray(speed)})
    inward, outward = (found[f"reference_speed_{side}"][:, -500:, 0].mean(axis=1) for side in ("compression", "rebound"))
    assert inward == pytest.approx([0.4, 1.2, 0.15, 0.4], rel=0.02)  # 4 s are four time constants, settled at the first sample
    assert outward == pytest.approx([0.4, 0.15, 0.15, 0.4], rel=0.02)
