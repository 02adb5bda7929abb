"""States told afterwards from made-up drives whose answer is known, and from the demo log in one piece and in many."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from dualduty.car import Car, read_car
from dualduty.errors import BadInput
from dualduty.shipped import shipped_calibrations
from dualduty.trial.run_sheet import read_run_sheet
from dualduty.units import STANDARD_GRAVITY as G
from replay.array_log import log_of_arrays
from replay.log import Log
from replay.marks.mark import Mark
from replay.offline.offline_scene import Body, Scene
from replay.offline.offline_states import TOLD, offline_states
from replay.offline.offline_windows import windows

Array = NDArray[np.float64]
RATE = 200.0
LENGTH = 40.0


@pytest.fixture(name="car", scope="module")
def a_car() -> Car:
    return read_car(shipped_calibrations() / "vehicles" / "marram.toml")


def drive(**changed: Array) -> dict[str, Array]:
    """Forty seconds of level driving at 10 m/s; signals that are given stand in."""
    samples = round(LENGTH * RATE)
    level = {
        "shaft_travel": np.full((4, samples), 0.103), "specific_force_z": np.full(samples, G), "yaw_rate": np.zeros(samples),
        "roll_rate": np.zeros(samples), "pitch_rate": np.zeros(samples), "wheel_speed": np.full((4, samples), 10.0),
        "brake": np.zeros(samples), "throttle": np.zeros(samples),
    }  # fmt: skip
    return level | changed


def log_of(**changed: Array) -> Log:
    signals = drive(**changed)
    return log_of_arrays(np.arange(signals["brake"].size) / RATE, signals, "dash")


def spans(marks: list[Mark], state: str, where: str = "") -> list[tuple[float, float]]:
    return [(round(mark.start, 3), round(mark.end, 3)) for mark in marks if (mark.state, mark.where) == (state, where)]


def gate(start: float, end: float) -> Array:
    time = np.arange(round(LENGTH * RATE)) / RATE
    return ((time >= start) & (time < end)).astype(float)


def smooth_step(length: float) -> Array:
    """From 0 to 1 over a time, without a kink in its speed."""
    along = np.linspace(0.0, 1.0, round(length * RATE))
    return along - np.sin(2 * np.pi * along) / (2 * np.pi)


def jump(car: Car, start: float, end: float) -> dict[str, Array]:
    """A flight in which the wheels fall away from the body, which they push up by as much: the sum of all forces is nothing."""
    travel, force = drive()["shaft_travel"], drive()["specific_force_z"]
    first, last = round(start * RATE), round(end * RATE)
    drop = 0.103 * smooth_step(0.2)
    travel[:, first : first + len(drop)] -= drop
    travel[:, first + len(drop) : last] = 0.0
    back = 0.103 * smooth_step(0.2)
    travel[:, last : last + len(back)] = back
    body = Body.of(car)
    wheels = np.gradient(np.gradient(travel / body.motion_ratio[:, None], 1 / RATE, axis=1), 1 / RATE, axis=1)
    push = body.unsprung @ wheels
    force[first:last] = -push[first:last]
    return {"shaft_travel": travel, "specific_force_z": force}


def test_a_flight_is_told_from_its_first_to_its_last_sample_though_springs_push_the_body(car: Car) -> None:
    signals = jump(car, 10.0, 10.5)
    assert np.abs(signals["specific_force_z"][2000:2040]).max() > 0.15 * G  # the body alone does not look as in free fall
    marks = offline_states(log_of(**signals), car, ["airborne", "landing", "wheel_off"])
    ((start, end),) = spans(marks, "airborne")
    # a step from 1 to 0 in one sample, which the smoothing spreads over 15 ms to either side
    assert (start, end) == pytest.approx((10.0, 10.5), abs=0.016)
    ((touch, over),) = spans(marks, "landing")
    assert (touch, over) == pytest.approx((end, end + 0.45), abs=0.006)
    assert {mark.where for mark in marks if mark.state == "wheel_off"} >= {"front_left", "rear_right"}
    assert {(mark.origin, mark.status, mark.counts) for mark in marks} == {("offline", "proposed", False)}


def test_a_short_hop_is_a_flight_no_landing_follows_and_a_light_crest_is_neither(car: Car) -> None:
    hop = drive()["specific_force_z"] * (1.0 - gate(10.0, 10.1))
    marks = offline_states(log_of(specific_force_z=hop), car, ["airborne", "landing"])
    assert [mark.state for mark in marks] == ["airborne"]
    crest = drive()["specific_force_z"] * (1.0 - 0.9 * gate(10.0, 10.5))
    assert not offline_states(log_of(specific_force_z=crest), car, ["airborne", "landing"])


def test_without_a_vehicle_a_flight_is_told_all_the_same_and_what_needs_one_is_not(car: Car) -> None:
    marks = offline_states(log_of(**jump(car, 10.0, 10.5)))
    assert spans(marks, "airborne")[0] == pytest.approx((10.0, 10.5), abs=0.03)
    assert not [mark for mark in marks if mark.state in ("wheel_off", "bump_approach")]


def test_a_turn_has_its_way_and_its_outer_side(car: Car) -> None:
    rate = 0.3 * gate(5.0, 8.0) - 0.3 * gate(20.0, 22.0) + 0.3 * gate(30.0, 30.2)  # 3 m/s² at 10 m/s; the last one too short
    marks = offline_states(log_of(yaw_rate=rate), car, ["cornering", "cornering_outer", "cornering_inner"])
    assert [mark.note for mark in marks if mark.state == "cornering"] == ["left", "right"]
    # the mean of 0.2 s reaches 0.25 g, 2.45 m/s², 82 % of its way in: 63 ms inside of either edge
    assert spans(marks, "cornering")[0] == pytest.approx((5.063, 7.937), abs=0.006)
    assert spans(marks, "cornering_outer", "right") == spans(marks, "cornering_inner", "left") == spans(marks, "cornering")[:1]
    assert spans(marks, "cornering_outer", "left") == spans(marks, "cornering")[1:]


def test_pedals_and_speed_tell_braking_accelerating_and_standing(car: Car) -> None:
    brake = 0.4 * gate(5.0, 6.0) + 0.4 * gate(6.3, 7.0) + 0.05 * gate(12.0, 13.0)
    throttle = 0.8 * gate(20.0, 21.0)
    speed = np.interp(np.arange(round(LENGTH * RATE)) / RATE, [0, 25, 27, 32, 33], [10, 10, 0, 0, 10])  # -5, then +10 m/s²
    marks = offline_states(log_of(brake=brake, throttle=throttle, wheel_speed=np.tile(speed, (4, 1))), car)
    pedal, slowing = spans(marks, "braking")
    assert pedal == (5.0, 7.0)  # a foot that moves on the pedal is one stop
    assert slowing == pytest.approx((25.0, 27.0), abs=0.1)
    assert spans(marks, "accelerating")[0] == (20.0, 21.0)
    assert spans(marks, "accelerating")[1] == pytest.approx((32.0, 33.0), abs=0.1)
    assert spans(marks, "standstill")[0] == pytest.approx((26.96, 32.02), abs=0.02)
    assert spans(marks, "walking_pace")[0] == pytest.approx((26.6, 32.2), abs=0.02)


def test_a_bump_stop_is_approached_from_60_ms_before_it_is_touched(car: Car) -> None:
    travel = drive()["shaft_travel"]
    travel[2] += 0.13 * gate(15.0, 15.2)
    marks = offline_states(log_of(shaft_travel=travel), car, ["bump_approach"])
    assert [(mark.where, round(mark.start, 3), round(mark.end, 3)) for mark in marks] == [("rear_left", 14.94, 15.2)]


def test_mounds_in_a_row_are_whoops_and_one_is_not(car: Car) -> None:
    time = np.arange(round(LENGTH * RATE)) / RATE
    mounds = 0.06 * np.sin(2 * np.pi * 1.6 * time)
    travel = drive()["shaft_travel"]
    travel[:2] += mounds * gate(10.0, 15.0)
    travel[2:] -= mounds * gate(10.0, 15.0)
    travel += 0.1 * np.sin(2 * np.pi * 1.6 * time) * gate(25.0, 25.625)  # one mound
    travel += 0.3 * np.exp(-1.8 * (time - 30.0)) * np.sin(2 * np.pi * 1.6 * time) * gate(30.0, 34.0)  # rings down after a landing
    ((start, end),) = spans(offline_states(log_of(shaft_travel=travel), car, ["whoops"]), "whoops")
    assert (start, end) == pytest.approx((10.0, 15.0), abs=0.5)  # to the half cycle, 0.31 s


def test_washboard_repeats_and_shaking_does_not(car: Car) -> None:
    random = np.random.default_rng(5)
    time = np.arange(round(LENGTH * RATE)) / RATE
    travel = drive()["shaft_travel"]
    travel += 0.004 * np.sin(2 * np.pi * 12.5 * time) * gate(8.0, 14.0)  # 0.8 m at 10 m/s
    shaken = Scene.of(log_of(), car).band(random.normal(0.0, 1.0, (4, time.size)), 9.0, 15.0)  # a wheel that hops by itself
    travel += 0.004 * shaken / shaken.std() * gate(20.0, 30.0)
    ((start, end),) = spans(offline_states(log_of(shaft_travel=travel), car, ["corrugation"]), "corrugation")
    assert (start, end) == pytest.approx((8.0, 14.0), abs=0.5)


def test_nothing_is_told_over_a_gap_and_beside_it_is(car: Car) -> None:
    signals = drive(**jump(car, 10.0, 10.5))
    signals["specific_force_z"][2040:2080] = np.nan  # 0.2 s of the flight
    marks = offline_states(log_of(**signals), car, ["airborne"])
    assert spans(marks, "airborne") == [pytest.approx((10.0, 10.2), abs=0.016), pytest.approx((10.4, 10.5), abs=0.016)]
    signals["specific_force_z"][:] = np.nan
    assert not [mark for mark in offline_states(log_of(**signals), car) if mark.state == "airborne"]


def test_a_log_that_lacks_a_signal_tells_what_it_can(car: Car) -> None:
    signals = drive(yaw_rate=0.3 * gate(5.0, 8.0))
    del signals["shaft_travel"], signals["brake"]
    marks = offline_states(log_of_arrays(np.arange(round(LENGTH * RATE)) / RATE, signals, "dash"), car)
    assert [mark.state for mark in marks] == ["cornering", "cornering_inner", "cornering_outer"]


def test_a_state_that_is_not_told_and_a_log_that_tells_none_are_refused() -> None:
    with pytest.raises(BadInput, match="state airbourne: is not one that is told afterwards; did you mean 'airborne'"):
        offline_states(log_of(), None, ["airbourne"])
    only = {"steer_angle": np.zeros(10)}
    with pytest.raises(BadInput, match="has none of the signals that tell a state: shaft_travel"):
        offline_states(log_of_arrays(np.arange(10) / RATE, only, "dash"))


@pytest.mark.parametrize(("samples", "step"), [(1, 0.005), (2, 0.005), (600, 0.05), (60, 5.0)])
def test_a_log_of_one_sample_or_of_samples_seconds_apart_tells_of_no_event(samples: int, step: float, car: Car) -> None:
    signals = {name: values[..., :samples] for name, values in drive().items()}
    marks = offline_states(log_of_arrays(np.asarray(np.arange(samples) * step, dtype=np.float64), signals, "dash"), car)
    assert not {mark.state for mark in marks} & {"airborne", "landing", "wheel_off", "cornering", "braking", "accelerating"}


def test_a_log_looked_at_in_parts_tells_the_same(car: Car) -> None:
    """A flight and a turn lie across the ends of parts; filters start anew in each, so edges may differ by a sample."""
    pieces = [drive(**jump(car, 39.3, 39.7)), drive(**jump(car, 20.0, 20.4)), drive(yaw_rate=0.3 * gate(35.0, 40.0))]
    pieces += [drive(yaw_rate=0.3 * gate(0.0, 3.0)), drive(brake=0.4 * gate(36.0, 40.0)), drive(brake=0.4 * gate(0.2, 1.0)), drive()]
    signals = {name: np.concatenate([piece[name] for piece in pieces], axis=-1) for name in pieces[0]}
    log = log_of_arrays(np.arange(signals["brake"].size) / RATE, signals, "dash")
    states = ("airborne", "landing", "wheel_off", "cornering", "braking")
    assert len(list(windows(log, car, 39.5))) == 7
    whole, parts = offline_states(log, car, states), offline_states(log, car, states, window=39.5)
    assert spans(whole, "braking") == [(196.0, 201.0)]
    assert len(spans(whole, "cornering")) == 1
    assert [(mark.state, mark.where) for mark in parts] == [(mark.state, mark.where) for mark in whole]
    edges = [(mark.start, mark.end) for mark in whole]
    np.testing.assert_allclose([(mark.start, mark.end) for mark in parts], edges, atol=0.0051)


def test_parts_hold_no_more_than_their_length_and_margins(car: Car) -> None:
    log = read_run_sheet(shipped_calibrations() / "logs" / "quarry_loop_dash.toml").open()
    parts = list(windows(log, car, 5.0, 2.0))
    assert max(part.scene.samples * part.scene.dt for part in parts) < 5.0 + 2 * 2.0 + 0.1
    assert [(part.start, part.end) for part in parts[:2]] == [(0.0, 5.0), (5.0, 10.0)]
    assert parts[-1].end == np.inf


def test_every_state_told_is_one_that_a_detector_publishes() -> None:
    text = (shipped_calibrations().parent / "docs" / "states.md").read_text(encoding="utf-8")
    assert all(f"`{name}`" in text for name in TOLD)
