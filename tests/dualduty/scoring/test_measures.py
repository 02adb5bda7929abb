"""Each measure on a signal whose figure one can say in advance."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from dualduty.scoring.measure import discover_measures
from dualduty.scoring.score import Scores, score
from dualduty.units import STANDARD_GRAVITY

Array = NDArray[np.float64]
TICKS = 2000
TIME = np.arange(TICKS) * 1e-3
Run = Callable[..., Any]


def _row(values: Any, corners: int = 1) -> Array:
    return np.array(np.broadcast_to(np.asarray(values, dtype=float), (TICKS,)), ndmin=3).reshape(1, TICKS, 1).repeat(corners, axis=0)


def _scores(make_run: Run, car: Any, name: str, header: Any = None, **parts: Any) -> Scores:
    return score(make_run(header=header, **parts), car, [discover_measures()[name]])


def _travel(front_left: Any, rest: float = 0.1) -> dict[str, dict[str, Array]]:
    travel = _row(rest, 4)
    travel[0, :, 0] = front_left
    return {"truth": {"true_travel": travel}}


def test_bump_contact_names_the_corner_and_its_time(make_run: Run, car: Any) -> None:
    parts = _travel(np.where((TIME % 0.5) < 0.05, 0.21, 0.15))
    count = _scores(make_run, car, "bump_contact_count", **parts)
    assert count.value("bump_contact_count") == 4
    assert count.worst_corner("bump_contact_count", 0) == "front-left"
    np.testing.assert_array_equal(count.corners["bump_contact_count"][:, 0], [4, 0, 0, 0])
    assert _scores(make_run, car, "bump_contact_share", **parts).value("bump_contact_share") == pytest.approx(0.1)


def test_hard_stops_of_all_corners_add_up(make_run: Run, car: Any) -> None:
    travel = _row(np.where((TIME % 1.0) < 0.03, 0.241, 0.15), 4)
    scores = _scores(make_run, car, "hard_stop_count", truth={"true_travel": travel})
    assert scores.value("hard_stop_count") == 8
    np.testing.assert_array_equal(scores.corners["hard_stop_count"][:, 0], [2, 2, 2, 2])


def test_travel_used_and_peak_compression_are_shares_of_the_stroke(make_run: Run, car: Any) -> None:
    parts = _travel(0.1 + 0.05 * np.sin(2 * np.pi * TIME))
    assert _scores(make_run, car, "travel_used", **parts).value("travel_used") == pytest.approx(0.1 / 0.25)
    assert _scores(make_run, car, "peak_compression", **parts).value("peak_compression") == pytest.approx(0.15 / 0.25)


def test_stop_force_of_the_droop_stop_is_left_out(make_run: Run, car: Any) -> None:
    force = _row(np.where(TIME < 1, -5000.0, 1200.0), 4)
    assert _scores(make_run, car, "peak_stop_force", truth={"stop_force": force}).value("peak_stop_force") == 1200.0


@pytest.mark.parametrize("name", ["roll", "pitch"])
def test_peak_angles_take_the_larger_side(make_run: Run, car: Any, name: str) -> None:
    angle = _row(np.where(TIME < 1, 0.04, -0.06))
    assert _scores(make_run, car, f"peak_{name}", truth={name: angle}).value(f"peak_{name}") == pytest.approx(0.06)


def test_suspension_roll_from_travels(make_run: Run, car: Any) -> None:
    # rolled right by 0.02 rad: the right wheels sink by half track x angle, the left ones rise, times the motion ratio
    angle = 0.02 * np.sin(2 * np.pi * TIME)
    side = np.array([-1.0, 1.0, -1.0, 1.0]) * car.half_track
    travel = (0.1 + 0.6 * side[:, None] * angle)[:, :, None]
    for kind in ("truth", "signals"):
        parts: Any = {kind: {"true_travel" if kind == "truth" else "shaft_travel": travel}}
        peak = _scores(make_run, car, "peak_suspension_roll", **parts)
        assert peak.value("peak_suspension_roll") == pytest.approx(0.02, rel=1e-5)
        assert _scores(make_run, car, "suspension_roll_rms", **parts).value("suspension_roll_rms") == pytest.approx(
            0.02 / np.sqrt(2), rel=1e-6
        )
        assert peak.notes == ({} if kind == "truth" else {"peak_suspension_roll": "from the travel sensors"})


def test_a_bank_is_no_suspension_roll(make_run: Run, car: Any) -> None:
    parts = {"true_travel": _row(0.12, 4), "roll": _row(0.2)}
    assert _scores(make_run, car, "peak_suspension_roll", truth=parts).value("peak_suspension_roll") == pytest.approx(0.0, abs=1e-15)


def test_roll_rate_is_that_of_the_sensor(make_run: Run, car: Any) -> None:
    parts = {"roll_rate": _row(0.3 * np.sin(2 * np.pi * 3 * TIME))}
    assert _scores(make_run, car, "roll_rate_rms", signals=parts).value("roll_rate_rms") == pytest.approx(0.3 / np.sqrt(2), rel=1e-6)


def test_tyre_load_varies_about_its_mean(make_run: Run, car: Any) -> None:
    load = car.static_wheel_load[:, None, None] * (
        1.3 + np.array([0.1, 0.2, 0.3, 0.05])[:, None, None] * np.sin(2 * np.pi * 5 * TIME)[None, :, None]
    )
    scores = _scores(make_run, car, "tyre_load_variation", truth={"wheel_load": load})
    assert scores.value("tyre_load_variation") == pytest.approx(0.3 / np.sqrt(2), rel=1e-6)
    assert scores.worst_corner("tyre_load_variation", 0) == "rear-left"


def test_time_off_the_ground_by_corner(make_run: Run, car: Any) -> None:
    load = _row(3000.0, 4)
    load[2, 100:350] = 0.0
    load[3, 100:150] = 20.0  # less than a percent of the static load carries nothing
    scores = _scores(make_run, car, "off_ground_time", truth={"wheel_load": load})
    assert scores.value("off_ground_time") == pytest.approx(0.25)
    np.testing.assert_allclose(scores.corners["off_ground_time"][:, 0], [0, 0, 0.25, 0.05])


def test_time_beyond_the_tested_speeds_and_oil_warming(make_run: Run, car: Any) -> None:
    beyond, oil = _row(0.0, 4), _row(40.0, 4)
    beyond[3, 200:260] = 1.0
    oil[1] = np.linspace(40.0, 43.5, oil.shape[1])[:, None]
    scores = _scores(make_run, car, "extrapolated_time", truth={"beyond_map": beyond})
    assert scores.value("extrapolated_time") == pytest.approx(0.06)
    assert scores.worst_corner("extrapolated_time", 0) == "rear-right"
    assert _scores(make_run, car, "oil_warming", truth={"oil_temperature": oil}).value("oil_warming") == pytest.approx(3.5)


@pytest.mark.parametrize("side", ["compression", "rebound"])
def test_duties_are_told_by_side(make_run: Run, car: Any, side: str) -> None:
    duty = {"compression": _row(0.2, 4), "rebound": _row(0.2, 4)}
    duty[side][1, :, 0] = 0.5 + 0.1 * np.sign(np.sin(2 * np.pi * (2 * TIME + 0.01)))
    assert _scores(make_run, car, f"mean_{side}_duty", duty=duty).value(f"mean_{side}_duty") == pytest.approx(0.5, abs=3e-3)
    turns = _scores(make_run, car, f"{side}_duty_reversals", duty=duty)
    assert turns.value(f"{side}_duty_reversals") == pytest.approx(7 / 2)  # 8 edges in 2 s, the first of them a first move
    assert turns.worst_corner(f"{side}_duty_reversals", 0) == "front-right"


def test_free_fall_is_no_landing(make_run: Run, car: Any) -> None:
    fall = np.where(TIME < 1.0, -STANDARD_GRAVITY, 0.0)
    landing = np.where((TIME >= 1.0) & (TIME < 1.1), 40 * np.sin(np.pi * (TIME - 1.0) / 0.1), 0.0)
    flown = _scores(make_run, car, "peak_landing_acceleration", truth={"seat_acceleration_z": _row(fall)})
    assert flown.value("peak_landing_acceleration") < 1.0  # what the filter swings over when the fall ends; measured 0.37 m/s2
    landed = _scores(make_run, car, "peak_landing_acceleration", truth={"seat_acceleration_z": _row(fall + landing)})
    # rel: two passes at 100 Hz hardly touch a 5 Hz half-sine; measured 2e-6
    assert landed.value("peak_landing_acceleration") == pytest.approx(40.0, rel=1e-5)


def test_a_spike_is_not_a_landing(make_run: Run, car: Any) -> None:
    spike = np.zeros(TICKS)
    spike[1000] = 300.0
    scores = _scores(make_run, car, "peak_landing_acceleration", truth={"seat_acceleration_z": _row(spike)})
    # a spike of one sample comes through with the sum of squares of one pass's impulse response: measured 0.26 of it
    assert scores.value("peak_landing_acceleration") < 0.3 * 300


def test_landing_needs_600_hz(make_run: Run, car: Any) -> None:
    run = {"signals": {"specific_force_z": _row(STANDARD_GRAVITY)}, "header": {"dt": 2e-3}}
    scores = _scores(make_run, car, "peak_landing_acceleration", **run)
    assert np.isnan(scores.value("peak_landing_acceleration"))
    assert scores.reasons[0][0] == "CFC 60 needs 600 Hz or more; this is 500 Hz"


def test_comfort_needs_200_hz_and_tells_what_a_slow_rate_does(make_run: Run, car: Any) -> None:
    run: Any = {"signals": {"specific_force_z": _row(STANDARD_GRAVITY)}}
    slow = _scores(make_run, car, "weighted_seat_acceleration", header={"dt": 1e-2}, **run)
    assert slow.reasons[0][0] == "the weighting needs 200 Hz or more; this is 100 Hz"
    fair = _scores(make_run, car, "weighted_seat_acceleration", header={"dt": 2e-3}, **run)
    assert fair.value("weighted_seat_acceleration") == pytest.approx(0.0, abs=1e-12)
    assert "from the body accelerometer, less g" in fair.notes["weighted_seat_acceleration"]
    assert "weighting -0.2 dB at 40 Hz, from 500 Hz data" in fair.notes["weighted_seat_acceleration"]


def test_the_seat_is_truth_first_then_its_own_sensor_then_the_body(make_run: Run, car: Any) -> None:
    wave = np.sin(2 * np.pi * 5 * TIME)
    body, seat = {"specific_force_z": _row(STANDARD_GRAVITY + wave)}, {"seat_specific_force_z": _row(STANDARD_GRAVITY + 2 * wave)}
    silent = {"seat_specific_force_z": _row(np.nan)}
    name = "weighted_seat_acceleration"
    one = _scores(make_run, car, name, signals=body).value(name)
    assert _scores(make_run, car, name, signals=body | silent).value(name) == one
    assert _scores(make_run, car, name, signals=body | seat).value(name) == pytest.approx(2 * one, rel=1e-9)
    assert _scores(make_run, car, name, signals=body | seat, truth={"seat_acceleration_z": _row(3 * wave)}).value(name) == pytest.approx(
        3 * one, rel=1e-9
    )
