"""Airborne: evidence of weightlessness, and what doesn't make it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from dualduty.units import STANDARD_GRAVITY as G
from strategies.detectors.airborne import Airborne
from tests.strategies.detectors.played import DT, played, stepped

Array = NDArray[np.float64]

CAR: dict[str, Any] = {"sprung_mass": 800.0, "unsprung_mass": 37.5, "motion_ratio": 0.6, "static_load": 2300.0, "hang_travel": 0.0}
STILL: dict[str, Any] = {
    "shaft_travel": [0.1] * 4, "shaft_speed": [0.0] * 4, "tyre_force": [2300.0] * 4,
    "specific_force_x": 0.0, "specific_force_y": 0.0, "specific_force_z": G,
}  # fmt: skip
OUT = [-0.5] * 4  # shafts coming out, in m/s
START = 100  # ticks on the ground


def flown(ticks: int = 400, values: dict[str, Any] | None = None, **changed: Any) -> dict[str, Array]:
    """States of a car that stands for `START` ticks, then feels `changed`."""
    return played(Airborne(**{**CAR, **(values or {})}), ticks, **{**STILL, **changed})


def first(active: Array) -> int:
    """Tick at which a state first opens, counted from take-off; -1 never."""
    return int(np.argmax(active)) - START if active.any() else -1


def test_free_fall_is_announced_then_confirmed_and_over_when_the_ground_is_back() -> None:
    force = stepped(400, START, G, 0.0)
    force[0, 300:] = G
    states = flown(specific_force_z=force, shaft_speed=OUT)
    likely, sure = states["airborne_likely"][0], states["airborne"][0]
    # two lags of 20 Hz take 15 to 31 ms from 1 to 0.25 and 0.08 g; then 10 and 34 ms of evidence, not all of it counted in full
    assert 10 <= first(likely) <= 20
    assert 24 <= first(sure) <= 42
    assert sure[START + first(sure) : 300].all()
    assert not sure[320:].any()
    assert not likely[320:].any()
    assert (likely >= sure).all()


def test_confirmation_takes_longer_while_the_shafts_come_out_slowly() -> None:
    force = stepped(400, START, G, 0.0)
    fast, slow = (first(flown(specific_force_z=force, shaft_speed=[speed] * 4)["airborne"][0]) for speed in (-0.5, -0.1))
    # 17 ticks of evidence count 0.4 each: 17 / 0.4 - 17 is 25.5
    assert slow - fast == pytest.approx(25, abs=3)


def test_washboard_that_unloads_all_wheels_for_moments_is_no_flight() -> None:
    force = np.where(np.arange(1000) % 50 < 25, 0.0, 2.0 * G)[None]  # nothing carried for 50 ms in 100
    states = flown(1000, specific_force_z=force, shaft_speed=OUT)
    assert states["airborne_likely"].any()
    assert not states["airborne"].any()  # what was gathered is lost again each time


def test_a_brow_over_which_an_eighth_is_carried_is_no_flight() -> None:
    states = flown(2000, specific_force_z=stepped(2000, START, G, 0.125 * G), shaft_speed=OUT)
    assert not states["airborne"].any()
    assert states["airborne_likely"].any()  # a pre-arm may be wrong, since it is taken back


@pytest.mark.parametrize(("falling", "expected"), [(True, True), (False, False)])
def test_what_the_springs_still_push_is_not_the_ground(falling: bool, expected: bool) -> None:
    """The body feels 0.3 g; wheels that fall away at (1 + 800 / 150) 0.3 g beneath it carry nothing, wheels at rest do."""
    force = stepped(140, START, G, 0.3 * G)
    change = np.zeros((4, 140))
    change[:, START:] = -0.6 * (800.0 / 150.0 + 1.0) * 0.3 * G
    speed = -0.4 + np.cumsum(change, axis=1) * DT * falling  # over 80 ms, to -1 m/s
    states = flown(140, specific_force_z=force, shaft_speed=speed)
    assert bool(states["airborne"].any()) == expected


@pytest.mark.parametrize("corner", range(4))
def test_a_lost_travel_is_spoken_for_by_the_other_of_its_axle(corner: int) -> None:
    force = stepped(140, START, G, 0.3 * G)
    change = np.zeros((4, 140))
    change[:, START:] = -0.6 * (800.0 / 150.0 + 1.0) * 0.3 * G
    speed = -0.4 + np.cumsum(change, axis=1) * DT
    speed[corner] = 0.0
    valid = [0.0 if number == corner else 1.0 for number in range(4)]
    sound = flown(140, specific_force_z=force, shaft_speed=speed)
    lost = flown(140, specific_force_z=force, shaft_speed=speed, shaft_travel_valid=valid)
    assert lost["airborne"].any()
    assert not sound["airborne"].any()  # believed, a wheel at rest in its arch carries what pushes it


def test_a_travel_that_comes_back_with_a_jump_shows_no_flight() -> None:
    valid = np.ones((4, 400))
    valid[2, 50:150] = 0.0
    speed = np.zeros((4, 400))
    speed[2, 150:155] = -8.0  # what a jump of travel does to shaft speed, at worst
    states = flown(400, shaft_speed=speed, shaft_travel_valid=valid)
    assert not states["airborne_likely"].any()


@pytest.mark.parametrize("force", [(0.0, G, 0.0), (0.0, -G, 0.0), (G, 0.0, 0.0), (0.0, 0.0, -G)])
def test_a_car_on_its_side_or_roof_does_not_fly(force: tuple[float, float, float]) -> None:
    felt: dict[str, Any] = {
        f"specific_force_{axis}": stepped(400, START, before, after)
        for axis, before, after in zip("xyz", (0.0, 0.0, G), force, strict=True)
    }
    assert not flown(**felt, shaft_speed=OUT)["airborne"][0, START + 50 :].any()


def test_a_wheel_is_off_by_its_own_load() -> None:
    load = np.full((4, 400), 2300.0)
    load[1, START:300] = 100.0
    off = flown(tyre_force=load)["wheel_off"]
    assert [bool(row.any()) for row in off] == [False, True, False, False]
    assert 16 <= first(off[1]) <= 22  # 32 ms of evidence at 1 - 0.17 each tick
    assert not off[1, 310:].any()


def test_with_a_travel_lost_a_wheel_is_off_where_its_shaft_hangs() -> None:
    travel = np.full((4, 400), 0.1)
    travel[3, START:] = 0.01
    off = flown(shaft_travel=travel, shaft_travel_valid=[0.0, 1.0, 1.0, 1.0], tyre_force=[0.0] * 4)["wheel_off"]
    assert [bool(row.any()) for row in off] == [False, False, False, True]
    assert off[3, -1] == 1.0


def test_strength_is_what_is_not_carried() -> None:
    from dualduty.contract import Chunk
    from dualduty.memory import Memory

    inputs = {name: np.broadcast_to(np.asarray(value, float).reshape(-1, 1, 1), (np.size(value), 400, 1)) for name, value in STILL.items()}
    memory = Memory(DT)
    memory.begin()
    detector: Any = Airborne(**CAR)
    result = detector.run(Chunk(DT, {**inputs, "specific_force_z": np.full((1, 400, 1), 0.1 * G)}), memory)
    assert result["airborne_likely"].strength[0, -1, 0] == pytest.approx(0.75)
