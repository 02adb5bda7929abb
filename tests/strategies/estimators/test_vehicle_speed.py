"""Vehicle speed: which wheel counts, what happens in the air and after it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from dualduty.contract import State
from tests.strategies.estimators.lane import DT, plug_in, run, spread

Array = NDArray[np.float64]
TICKS = 1500
FLIGHT = slice(400, 700)  # 0.6 s


def speeds(wheels: Any, *, air: Array | None = None, brake: float = 0.0, yaw_rate: float = 0.0, **values: float) -> dict[str, Array]:
    """Outputs over wheel speeds: four numbers, or (4, time)."""
    rows = np.asarray(wheels, float).reshape(4, -1, 1)
    given = spread(TICKS, brake=brake, yaw_rate=yaw_rate, wheel_speed=np.broadcast_to(rows, (4, TICKS, 1)))
    aloft = State(np.zeros((1, TICKS, 1)) if air is None else air.reshape(1, -1, 1))
    return run(plug_in("VehicleSpeed", **values), {**given, "airborne_likely": aloft, "airborne": aloft})


def race(spun: float = 18.0, settles: int = 60) -> tuple[Array, Array]:
    """Wheels that race from 12 m/s to `spun` in a flight, and come back within `settles` ticks of it; and the flight."""
    air = np.zeros(TICKS)
    air[FLIGHT] = 1.0
    wheel = np.full(TICKS, 12.0)
    wheel[FLIGHT] = np.linspace(12.0, spun, 300)
    wheel[700 : 700 + settles] = np.linspace(spun, 12.0, settles)
    return np.broadcast_to(wheel, (4, TICKS)).copy(), air


def test_the_slower_of_the_middle_wheels_counts_the_faster_one_while_braking() -> None:
    wheels = [10.0, 11.0, 12.0, 15.0]
    assert speeds(wheels)["vehicle_speed"][0, -1, 0] == pytest.approx(11.0)
    assert speeds(wheels, brake=0.4)["vehicle_speed"][0, -1, 0] == pytest.approx(12.0)


def test_turning_is_taken_off() -> None:
    """On a circle to the left, inner wheels are slower by half the track times the yaw rate."""
    wheels = [10.0 - 0.75 * 0.6, 10.0 + 0.75 * 0.6] * 2
    assert speeds(wheels, yaw_rate=0.6)["vehicle_speed"][0, -1, 0] == pytest.approx(10.0)
    assert speeds(wheels)["vehicle_speed"][0, -1, 0] == pytest.approx(9.55)


def test_it_stands_still_in_the_air_and_until_the_wheels_are_back() -> None:
    wheels, air = race()
    assert np.abs(speeds(wheels, air=air)["vehicle_speed"] - 12.0).max() < 1e-9
    followed = speeds(wheels, air=air, hold_in_air=0.0)["vehicle_speed"][0, :, 0]
    # 6 m/s² for 0.6 s, less what the smoothing of 3 Hz lags (0.3 m/s), then back again as fast as 9 m/s² allows
    assert 15.0 < followed.max() < 15.7


def test_racing_wheels_that_pass_the_speed_on_their_way_down_are_not_believed() -> None:
    wheels, air = race()
    wheels[:, 720:760] = np.linspace(13.5, 6.0, 40)  # grip throws them below the speed, before they follow the ground
    assert np.abs(speeds(wheels, air=air)["vehicle_speed"] - 12.0).max() < 1e-9
    assert speeds(wheels, air=air, agrees_for=0.0)["vehicle_speed"].min() < 11.8  # planted: at once


def test_wheels_that_never_come_back_are_believed_in_the_end() -> None:
    wheels, air = race(settles=60)
    wheels[:, 700:] = 16.0
    speed = speeds(wheels, air=air)["vehicle_speed"][0, :, 0]
    assert speed[700 + 195] == pytest.approx(12.0)
    assert speed[-1] > 15.5


def test_a_flight_without_end_is_not_believed() -> None:
    air = np.ones(TICKS)
    wheels = np.broadcast_to(np.linspace(12.0, 9.0, TICKS), (4, TICKS))
    speed = speeds(wheels, air=air)["vehicle_speed"][0, :, 0]
    assert speed[990] == pytest.approx(12.0)  # 2 s
    assert speed[-1] == pytest.approx(9.0, abs=0.4)  # planted: 12.0


def test_how_far_it_moved_in_the_air_is_told_for_a_second() -> None:
    wheels, air = race()
    moved = speeds(wheels, air=air, hold_in_air=0.0)["speed_moved_in_air"][0, :, 0]
    assert not moved[:400].any()
    assert moved[699] == pytest.approx(3.3, abs=0.2)  # 3.6 m/s, less the lag of the smoothing
    assert moved[700 + int(0.99 / DT)] == moved[699]
    assert moved[700 + int(1.01 / DT)] == 0.0
    assert np.abs(speeds(wheels, air=air)["speed_moved_in_air"]).max() < 1e-9


@pytest.mark.parametrize(("lost", "expected"), [((0,), 10.0), ((3,), 10.0), ((0, 1), 10.0), ((2, 3), 10.0), ((0, 1, 2, 3), 8.0)], ids=str)
def test_lost_wheel_sensors_are_left_out(lost: tuple[int, ...], expected: float) -> None:
    """Held at 3 m/s while the car gains speed from 8 to 10 m/s."""
    wheels, valid = np.broadcast_to(np.linspace(8.0, 10.0, TICKS - 500), (4, TICKS - 500)), np.ones((4, TICKS, 1))
    wheels = np.concatenate([wheels, np.full((4, 500), 10.0)], axis=1).copy()
    wheels[list(lost), 1:] = 3.0
    valid[list(lost), 1:] = 0.0
    given = spread(TICKS, brake=0.0, yaw_rate=0.0)
    air = State(np.zeros((1, TICKS, 1)))
    signals = {**given, "wheel_speed": wheels[:, :, None].copy(), "wheel_speed_valid": valid, "airborne_likely": air, "airborne": air}
    assert run(plug_in("VehicleSpeed"), signals)["vehicle_speed"][0, -1, 0] == pytest.approx(expected, abs=1e-3)
