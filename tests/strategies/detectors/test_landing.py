"""Landing: a latch that a new flight takes back, and what it says of the landing to come."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from dualduty.units import STANDARD_GRAVITY as G
from strategies.detectors.landing import Landing
from tests.strategies.detectors.played import DT, played

Array = NDArray[np.float64]

STILL: dict[str, Any] = {
    "specific_force_x": 0.0, "specific_force_y": 0.0, "specific_force_z": G, "shaft_speed": [0.0] * 4, "pitch_rate": 0.0, "roll_rate": 0.0,
    "body_roll": 0.0, "body_pitch": 0.0, "airborne_likely": 0.0, "airborne": 0.0,
}  # fmt: skip
ARMS: dict[str, Any] = {
    "corner_x": np.array([1.3, 1.3, -1.1, -1.1]).reshape(4, 1, 1), "corner_y": np.array([0.75, -0.75, 0.75, -0.75]).reshape(4, 1, 1),
}  # fmt: skip
TICKS, START, END = 800, 100, 250  # a flight of 300 ms


def flight(*stretches: tuple[int, int], ticks: int = TICKS) -> dict[str, Any]:
    """Nothing felt from tick to tick, and airborne said at once."""
    force, air = np.full((1, ticks), G), np.zeros((1, ticks))
    for first, last in stretches or ((START, END),):
        force[0, first:last] = 0.0
        air[0, first:last] = 1.0
    return {"specific_force_z": force, "airborne_likely": air, "airborne": air}


def landed(ticks: int = TICKS, values: dict[str, Any] | None = None, **inputs: Any) -> dict[str, Array]:
    """Outputs of a car without arms, unless `values` has them."""
    return played(Landing(**(values or {})), ticks, **{**STILL, **inputs})


def opened(active: Array) -> list[int]:
    """Ticks at which the state opens or closes."""
    return [int(edge) + 1 for edge in np.flatnonzero(np.diff(active[0]))]


def test_it_opens_when_the_ground_is_felt_again_and_stays() -> None:
    start, end = opened(landed(**flight())["landing"])
    assert END <= start <= END + 3  # 60 Hz smoothing takes a quarter of g in two ticks
    assert (end - start) * DT == pytest.approx(0.45, abs=0.004)


def test_without_flight_there_is_no_landing() -> None:
    force = np.full((1, TICKS), G)
    force[0, START:END] = 0.2 * G
    force[0, END : END + 20] = 4.0 * G
    assert not landed(specific_force_z=force)["landing"].any()


def test_the_bounce_off_the_droop_stop_is_no_touchdown() -> None:
    speed = np.zeros((4, TICKS))
    speed[2:, START + 40 : START + 50] = 1.5
    assert opened(landed(**flight(), shaft_speed=speed)["landing"])[0] >= END


def test_a_second_blow_keeps_it_open() -> None:
    inputs = flight()
    inputs["specific_force_z"][0, END + 60 : END + 80] = 3.0 * G
    once, twice = opened(landed(**flight())["landing"]), opened(landed(**inputs)["landing"])
    assert twice[0] == once[0]
    assert (twice[1] - once[1]) * DT == pytest.approx(0.16, abs=0.012)


def test_a_new_flight_ends_it_and_starts_all_over() -> None:
    outputs = landed(**flight((100, 250), (300, 350)))
    start, end, again, over = opened(outputs["landing"])
    assert end == 300
    assert [start - 250, again - 350] == pytest.approx([2, 2], abs=2)
    assert (over - again) * DT == pytest.approx(0.45, abs=0.004)
    air = outputs["air_time"][0]
    told = Landing().told_late
    assert air[249] == pytest.approx(0.3 + told)
    assert air[349] == pytest.approx(0.1 + told)  # not the sum


def test_what_is_foretold_stays_until_the_landing_is_over() -> None:
    outputs = landed(**flight())
    speed, landing = outputs["landing_speed"][0], outputs["landing"][0]
    assert (np.diff(speed[START:END]) >= 0.0).all()
    held = speed[END : END + 200][landing[END : END + 200] > 0]
    assert (held == held[0]).all()
    assert not speed[:START].any()
    assert speed[-1] == outputs["landing_severity"][0, -1] == outputs["air_time"][0, -1] == 0.0


def test_wheels_that_come_in_faster_than_foretold_are_believed() -> None:
    speed = np.zeros((4, TICKS))
    speed[:2, END + 10 : END + 30] = 3.0
    outputs = landed(values={"motion_ratio": 0.6}, **flight(), shaft_speed=speed)
    assert outputs["landing_speed"][0, END + 40] == pytest.approx(5.0)
    assert outputs["landing_severity"][0, END + 40] == 1.0


@pytest.mark.parametrize(
    ("rates", "worst"), [({"pitch_rate": 0.5}, 1.3 * 0.5), ({"pitch_rate": -0.5}, 1.1 * 0.5), ({"roll_rate": 0.4}, 0.3)]
)
def test_the_corner_that_falls_fastest_counts(rates: dict[str, Any], worst: float) -> None:
    level = landed(values=ARMS, **flight())["landing_speed"][0, END - 1]
    turning = landed(values=ARMS, **flight(), **rates)["landing_speed"][0, END - 1]
    assert turning - level == pytest.approx(worst)


def test_a_gyro_that_is_not_believed_turns_nothing() -> None:
    level = landed(values=ARMS, **flight())["landing_speed"]
    unseen = landed(values=ARMS, **flight(), pitch_rate=5.0, pitch_rate_valid=0.0)["landing_speed"]
    np.testing.assert_array_equal(unseen, level)


def test_a_long_slope_is_no_fall() -> None:
    """On 20 degrees f_z lacks 6 % of g; the angles put it right, and 1 % of g remains of small angles."""
    pitch = np.deg2rad(20.0)
    inputs = flight((4000, 4010), ticks=4020)
    force = np.where(inputs["airborne"] > 0, 0.0, G * np.cos(pitch))
    inputs["specific_force_z"] = force
    outputs = landed(4020, **inputs, specific_force_x=np.where(inputs["airborne"] > 0, 0.0, -G * np.sin(pitch)), body_pitch=pitch)
    assert outputs["landing_speed"][0, 4009] <= 0.4  # 20 ms of free fall are 0.2 m/s


@pytest.mark.parametrize(
    "lost", [{"specific_force_y": 8.0, "specific_force_y_valid": 0.0}, {"specific_force_x": -8.0, "specific_force_x_valid": 0.0}]
)
def test_a_force_that_was_lost_in_a_turn_or_under_brakes_foretells_no_speed(lost: dict[str, float]) -> None:
    """Held at 8 m/s² on a car that leans by 9 degrees, it would pass for 1.2 m/s² of rise: 3 m/s less, or more, at touchdown."""
    leans: dict[str, Any] = {"body_roll": 0.15, "body_pitch": 0.15}
    size = math.sqrt(1.0 + 2 * 0.15**2)
    flies = flight((1500, 1650), ticks=2000)
    flies["specific_force_z"] /= size
    good = landed(
        2000, **flies, **leans, specific_force_y=0.15 * flies["specific_force_z"], specific_force_x=-0.15 * flies["specific_force_z"]
    )
    bad = landed(2000, **{**flies, **leans, "specific_force_y": 0.15 * flies["specific_force_z"],
                          "specific_force_x": -0.15 * flies["specific_force_z"], **lost})  # fmt: skip
    # abs: what stands in is g times the angle, not over the root of 1.045: 0.5 % of g, 0.02 m/s here
    assert bad["landing_speed"][0, 1640] == pytest.approx(good["landing_speed"][0, 1640], abs=0.05)
    assert good["landing_speed"][0, 1640] > 2.0
