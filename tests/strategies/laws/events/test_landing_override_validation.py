"""LandingOverride on a nonlinear corner dropped on flat ground: no kick."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from dualduty.contract import Chunk
from dualduty.memory import Memory
from dualduty.units import STANDARD_GRAVITY
from strategies.laws.landing_override import LandingOverride

SEEN_AFTER = 0.01  # s from touchdown until the state opens


def override_on(corner: Any, **numbers: Any) -> Any:
    """The law as it takes over with `set`; before the landing is seen, its touchdown values stand already, as in flight."""
    law: Any = LandingOverride(hang_travel=corner.static_travel - corner.sprung * STANDARD_GRAVITY / corner.spring, **numbers)
    memory = Memory(corner.duty_step)
    begun = [0]

    def duties(travel: float, _speed: float) -> tuple[float, float]:
        time = begun[0] * corner.duty_step
        begun[0] += 1
        whole = {"landing": float(time >= SEEN_AFTER), "landing_severity": 1.0, "vehicle_speed": 5.0}
        values = {name: np.full((1, 1, 1), value) for name, value in whole.items()}
        values |= {"wheel_off": np.zeros((4, 1, 1)), "shaft_travel": np.full((4, 1, 1), travel)}
        memory.begin()
        duty: Any = law.run(Chunk(corner.duty_step, values), memory)
        memory.end()
        return float(duty.compression[0, 0, 0]), float(duty.rebound[0, 0, 0])

    return duties


@pytest.mark.validates("energy: the spring's work of the way back leaves the body as speed, less what the rebound side takes")
@pytest.mark.parametrize(("height", "flight_without"), [(0.6, 0.0), (1.0, 0.1)])
def test_the_settling_stage_takes_the_kick(corner: Any, height: float, flight_without: float) -> None:
    """Body speed upward 1.17 -> 0.98 m/s after 0.6 m; 1.95 -> 1.81 m/s and no second flight (149 ms without) after 1.0 m."""
    numbers = {"compression": 0.72, "touchdown_rebound": 0.4, "settling_rebound": 0.7}
    staged = corner.drop(height, override_on(corner, **numbers), 0.8)
    unstaged = corner.drop(height, override_on(corner, **numbers | {"settling_rebound": 0.4}), 0.8)
    assert staged.rise_speed < 0.94 * unstaged.rise_speed
    assert unstaged.second_flight >= flight_without
    assert staged.second_flight == 0.0


@pytest.mark.validates("mechanics of one stroke: what rebound does after the deepest point can't change the peak before it")
@pytest.mark.parametrize("height", [0.3, 1.0])
def test_stages_leave_the_blow_alone(corner: Any, height: float) -> None:
    """The deepest point comes 180 to 270 ms after touchdown, before compression is let go."""
    staged = corner.drop(height, override_on(corner, compression=0.72), 0.8)
    constant = corner.drop(height, lambda _travel, _speed: (0.72, 0.4), 0.8)
    # rel: the wheel swings on its tyre meanwhile and extends the shaft for some ms; that moves the peak by 0.1 %
    assert staged.peak == pytest.approx(constant.peak, rel=2e-3)
    assert staged.deepest == pytest.approx(constant.deepest, rel=2e-3)


@pytest.mark.validates("mechanics of one stroke: a settling stage after the way back comes too late")
def test_a_late_stage_is_no_help(corner: Any) -> None:
    from dualduty.lookup import Curve

    late: Any = Curve(np.array([0.0, 1.0]), np.array([0.4, 0.4]))
    numbers: dict[str, Any] = {"compression": 0.72, "touchdown_rebound": 0.4, "settling_rebound": 0.7}
    assert corner.drop(1.0, override_on(corner, **numbers, settling_after=late), 0.8).second_flight > 0.1
