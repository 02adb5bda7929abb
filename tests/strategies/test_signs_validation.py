"""Which side, which end, which sign: estimators, laws and detectors against ISO 8855 and plain mechanics."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from dualduty.contract import Chunk, State
from dualduty.memory import Memory
from dualduty.units import STANDARD_GRAVITY
from strategies.detectors.braking import Braking
from strategies.detectors.landing import Landing
from strategies.estimators.corner_speed import CornerSpeed
from strategies.estimators.suspension_attitude import SuspensionAttitude
from strategies.laws.skyhook_two_way import SkyhookTwoWay

Array = NDArray[np.float64]
DT = 0.002
ARM = np.array([1.3, 1.3, -1.1, -1.1]).reshape(4, 1, 1)
SIDE = np.array([0.75, -0.75, 0.7, -0.7]).reshape(4, 1, 1)


def ran(plug_in: Any, values: dict[str, Any], ticks: int = 1) -> Any:
    """One call on fresh memory; numbers become (1, ticks, 1), four numbers (4, ticks, 1); states are taken as they are."""

    def spread(value: Any) -> Any:
        if isinstance(value, State):
            return value
        rows = np.asarray(value, float).reshape(-1, 1, 1) if np.ndim(value) < 2 else np.asarray(value, float)
        return np.ascontiguousarray(np.broadcast_to(rows, (rows.shape[0], ticks, 1)))

    memory = Memory(DT)
    memory.begin()
    result = plug_in.run(Chunk(DT, {name: spread(value) for name, value in values.items()}), memory)
    memory.end()
    return result


def gate(*active: float) -> State:
    """A state at one tick, by corner or for the whole vehicle."""
    return State(np.array(active).reshape(-1, 1, 1))


def corners(values: Array) -> list[float]:
    """Values of the last tick, by corner."""
    return [float(value) for value in values[:, -1, 0]]


@pytest.mark.validates("ISO 8855 small angles: z_i = z + y_i roll - x_i pitch; right side down and nose down are positive")
def test_corner_speed_of_a_turning_body() -> None:
    estimator = CornerSpeed(corner_x=ARM, corner_y=SIDE)  # type: ignore[arg-type]
    still: dict[str, Any] = {"corner_acceleration": [0.0] * 4, "net_roll_rate": 0.0, "net_pitch_rate": 0.0}
    rolling = ran(estimator, still | {"net_roll_rate": 0.2})["corner_speed"]
    assert corners(rolling) == pytest.approx([0.15, -0.15, 0.14, -0.14])  # the left side rises
    diving = ran(estimator, still | {"net_pitch_rate": 0.2})["corner_speed"]
    assert corners(diving) == pytest.approx([-0.26, -0.26, 0.22, 0.22])  # the front sinks


@pytest.mark.validates("closed form: half of g upward for 20 ms raises the body at 0.098 m/s; angular accelerations about its centre don't")
def test_corner_speed_of_a_rising_body() -> None:
    estimator = CornerSpeed(corner_x=ARM, corner_y=SIDE)  # type: ignore[arg-type]
    upward, pitching = 0.5 * STANDARD_GRAVITY, 3.0
    values = {"corner_acceleration": list((upward - ARM * pitching).ravel()), "net_roll_rate": 0.0, "net_pitch_rate": 0.0}
    rising = ran(estimator, values, 10)
    # rel: two leaks of 0.2 Hz forget 2.5 % within 20 ms
    assert corners(rising["corner_speed"]) == pytest.approx([upward * 0.02] * 4, rel=0.03)
    assert rising["heave_speed"][0, -1, 0] == pytest.approx(upward * 0.02, rel=0.03)


@pytest.mark.validates(
    "ISO 8855: with the right side compressed the body rolls right, positive; with the front compressed it pitches down, positive"
)
def test_attitude_from_travels() -> None:
    estimator = SuspensionAttitude(static_travel=0.1, motion_ratio=0.5, half_track=0.75, wheelbase=2.5)
    rolled = ran(estimator, {"shaft_travel": [0.09, 0.11, 0.09, 0.11]})
    assert rolled["suspension_roll"].item() == pytest.approx(0.04 / 1.5)
    assert rolled["suspension_pitch"].item() == pytest.approx(0.0)
    dived = ran(estimator, {"shaft_travel": [0.11, 0.11, 0.09, 0.09]})
    assert dived["suspension_pitch"].item() == pytest.approx(0.04 / 2.5)
    assert dived["suspension_roll"].item() == pytest.approx(0.0)


@pytest.mark.validates("skyhook: the force opposes the body's speed; a damper pulls down only in rebound, pushes up only in compression")
def test_skyhook_uses_the_side_that_can() -> None:
    force = ran(SkyhookTwoWay(damping=1000.0, dead_speed=0.0), {"corner_speed": [0.5, -0.5, 0.2, 0.0]})
    assert corners(force.rebound) == pytest.approx([500.0, 0.0, 200.0, 0.0])
    assert corners(force.compression) == pytest.approx([0.0, 500.0, 0.0, 0.0])


@pytest.mark.validates("a landing is what ends a flight: a blow without one is a bump")
@pytest.mark.parametrize("flown", [0.0, 1.0])
def test_landing_needs_a_flight(flown: float) -> None:
    blow = np.concatenate([np.zeros(20), np.full(20, 2.5 * STANDARD_GRAVITY)]).reshape(1, -1, 1)
    air = State(np.concatenate([np.full(20, flown), np.zeros(20)]).reshape(1, -1, 1))
    still = dict.fromkeys(("specific_force_x", "specific_force_y", "pitch_rate", "roll_rate", "body_roll", "body_pitch"), 0.0)
    felt: dict[str, Any] = {**still, "specific_force_z": blow, "shaft_speed": [0.0] * 4}
    landing = ran(Landing(), felt | {"airborne_likely": air, "airborne": air}, 40)["landing"].active[0, :, 0]
    assert landing[19] == 0.0
    assert landing[-1] == flown


@pytest.mark.validates("ISO 8855: x is forward, so a braked vehicle feels negative specific force along it")
@pytest.mark.parametrize(("ahead", "open_"), [(-0.5, 1.0), (0.5, 0.0)])
def test_only_slowing_is_braking(ahead: float, open_: float) -> None:
    wheels = np.broadcast_to(20.0 + ahead * STANDARD_GRAVITY * DT * np.arange(400).reshape(1, -1, 1), (4, 400, 1)).copy()
    on_the_ground = dict.fromkeys(("airborne_likely", "airborne", "landing"), State(np.zeros((1, 400, 1))))
    felt = {"specific_force_x": ahead * STANDARD_GRAVITY, "specific_force_z": STANDARD_GRAVITY, "wheel_speed": wheels, "brake": 0.0}
    state = ran(Braking(), felt | on_the_ground, 400)["braking"]
    assert state.active[0, -1, 0] == open_
