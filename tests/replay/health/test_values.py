"""Values that can't be: stuck, spikes, saturation, coarse steps, beyond belief."""

from __future__ import annotations

import numpy as np
import pytest

from dualduty.units import STANDARD_GRAVITY
from replay.health.believable import unbelievable
from replay.health.check_log import Finder
from replay.health.finding import IMPAIRS, NOTE, SPOILS
from replay.health.quantisation import Quantisation
from replay.health.saturation import Saturation
from replay.health.spikes import Spikes
from replay.health.stuck import Stuck
from tests.replay.health.hand_made_parts import HandMade, driving


@pytest.mark.parametrize("finder", [Stuck, Spikes, Saturation, Quantisation])
def test_sound_channels_have_none(finder: type[Finder]) -> None:
    assert HandMade(driving(60.0)).found(finder) == []


@pytest.mark.parametrize("size", [90, 1700, 20_000])
def test_a_stuck_channel_is_placed_with_its_value(size: int) -> None:
    time, signals = driving()
    signals["shaft_travel"][1, 1000:1300] = 0.0841
    (found,) = HandMade((time, signals)).found(Stuck, size)
    assert (found.kind, found.channel, found.severity) == ("stuck", "front-right travel", SPOILS)
    assert (found.start, found.end) == pytest.approx((5.0, 6.495), abs=0.0051)
    assert "84.1 mm" in found.text


@pytest.mark.parametrize("corners", [[1], [0, 1, 2, 3]])
def test_a_travel_that_never_changes_is_stuck_for_all_of_the_log(corners: list[int]) -> None:
    time, signals = driving()
    signals["shaft_travel"][corners] = 0.0841
    (found,) = HandMade((time, signals)).found(Stuck)
    assert (found.kind, found.severity, len(found.rows)) == ("stuck", SPOILS, len(corners))
    assert (found.start, found.end) == pytest.approx((time[0], time[-1]))


@pytest.mark.parametrize("corners", [[2], [0, 1, 2, 3]])
def test_a_wheel_that_always_says_the_same_speed_is_stuck(corners: list[int]) -> None:
    time, signals = driving()
    signals["wheel_speed"][corners] = 13.9
    (found,) = HandMade((time, signals)).found(Stuck)
    assert (found.kind, len(found.rows)) == ("stuck", len(corners))


def test_wheels_and_travels_of_a_parked_vehicle_with_its_engine_on_are_not_stuck() -> None:
    time, signals = driving()
    for name in ("wheel_speed", "shaft_travel"):
        signals[name][:] = 0.0
    assert HandMade((time, signals)).found(Stuck) == []
    del signals["wheel_speed"]
    assert HandMade((time, signals)).found(Stuck) == []


def test_a_log_in_which_nothing_ever_changes_is_lost() -> None:
    time, signals = driving()
    (found,) = HandMade((time, {name: np.zeros_like(values) for name, values in signals.items()})).found(Stuck)
    assert (found.kind, found.severity, found.whole) == ("stuck", SPOILS, True)
    assert "never changes" in found.text


def test_a_vehicle_at_rest_is_no_fault() -> None:
    time, signals = driving()
    for name, values in signals.items():
        values[..., 1000:2000] = 0.0 if name == "wheel_speed" else values[..., 1000:1001]
    assert HandMade((time, signals)).found(Stuck) == []


def test_a_pedal_that_is_not_touched_is_no_fault() -> None:
    time, signals = driving()
    signals["brake"] = np.where((time > 5.0) & (time < 6.0), 0.3 + 0.1 * np.sin(40 * time), 0.0)
    assert HandMade((time, signals)).found(Stuck) == []


def test_a_locked_wheel_is_none_and_one_that_stays_at_nought_is() -> None:
    time, signals = driving()
    signals["wheel_speed"][2, 1000:1200] = 0.0
    assert HandMade((time, signals)).found(Stuck) == []
    signals["wheel_speed"][2, 1000:1600] = 0.0
    assert [found.channel for found in HandMade((time, signals)).found(Stuck)] == ["rear-left wheel speed"]


def test_a_coarse_channel_on_smooth_ground_may_stand_still() -> None:
    time, signals = driving()
    signals["shaft_travel"] = 0.1 + 0.05 * (signals["shaft_travel"] - 0.1)  # half a millimetre
    signals["shaft_travel"][3] = np.round(signals["shaft_travel"][3] / 0.002) * 0.002
    assert HandMade((time, signals)).found(Stuck) == []


@pytest.mark.parametrize("width", [1, 2, 3])
@pytest.mark.parametrize("size", [100, 1700])
def test_a_spike_is_placed(width: int, size: int) -> None:
    time, signals = driving()
    signals["shaft_travel"][0, 2400 : 2400 + width] += 0.15
    (found,) = HandMade((time, signals)).found(Spikes, size)
    assert (found.kind, found.channel, found.severity) == ("spikes", "front-left travel", NOTE)
    assert found.start == pytest.approx(12.0, abs=1e-9)


def test_many_spikes_are_one_finding_that_impairs() -> None:
    time, signals = driving()
    at = np.random.default_rng(4).choice(np.arange(50, 3900), 12, replace=False)
    signals["specific_force_z"][at] += 60.0
    (found,) = HandMade((time, signals)).found(Spikes)
    assert found.severity == IMPAIRS
    assert "12 spikes" in found.text


def test_a_step_or_a_shock_that_rings_is_no_spike() -> None:
    time, signals = driving()
    signals["specific_force_z"] += np.where(time > 9.0, 80.0 * np.exp(-(time - 9.0) / 0.05) * np.cos(60.0 * (time - 9.0)), 0.0)
    signals["shaft_travel"][0, 2000:] += 0.1
    assert HandMade((time, signals)).found(Spikes) == []


def test_a_channel_that_stops_at_its_limit_is_saturated() -> None:
    time, signals = driving()
    signals["specific_force_z"] = np.minimum(signals["specific_force_z"], 13.0)
    (found,) = HandMade((time, signals)).found(Saturation)
    assert (found.kind, found.channel, found.severity) == ("saturation", "vertical force", IMPAIRS)
    assert f"{13.0 / STANDARD_GRAVITY:.5g} g" in found.text


def test_the_crest_of_a_coarse_channel_is_not_saturated() -> None:
    time, signals = driving(60.0)
    signals["shaft_travel"] = np.round(signals["shaft_travel"] / 0.002) * 0.002
    assert HandMade((time, signals)).found(Saturation) == []


@pytest.mark.parametrize(("step", "severity"), [(0.002, NOTE), (0.004, IMPAIRS)])
def test_coarse_steps_of_a_travel_are_told_as_shaft_speed(step: float, severity: str) -> None:
    time, signals = driving()
    signals["shaft_travel"][3] = np.round(signals["shaft_travel"][3] / step) * step
    (found,) = HandMade((time, signals)).found(Quantisation)
    assert (found.channel, found.severity, found.whole) == ("rear-right travel", severity, True)
    assert f"{1e3 * step:g} mm" in found.text
    assert "m/s r.m.s. of shaft speed" in found.effect


def test_coarse_steps_over_part_of_the_log_are_placed() -> None:
    time, signals = driving(60.0)
    coarse = (time > 20.0) & (time < 40.0)
    signals["yaw_rate"][coarse] = np.round(signals["yaw_rate"][coarse] / 0.03) * 0.03
    (found,) = HandMade((time, signals)).found(Quantisation)
    assert (found.start, found.end) == pytest.approx((20.0, 40.0), abs=2.6)  # windows of 2.5 s


@pytest.mark.parametrize(
    ("name", "factor", "says"),
    [
        ("shaft_travel", 1e-3, "m taken as mm"),
        ("shaft_travel", 1e3, "beyond what is believed"),
        ("specific_force", 1 / STANDARD_GRAVITY, "g taken as m/s²"),
        ("specific_force", STANDARD_GRAVITY, "m/s² taken as g"),
        ("roll_rate", 180 / np.pi, "while driving"),
    ],
)
def test_a_slip_of_units_is_told(name: str, factor: float, says: str) -> None:
    time, signals = driving()
    for each in [each for each in signals if each.startswith(name)]:
        signals[each] *= factor
    findings = unbelievable(HandMade((time, signals)).slow())
    assert findings
    assert all(found.kind == "range" for found in findings)
    assert any(says in found.text for found in findings)


def test_sound_values_are_believed() -> None:
    assert unbelievable(HandMade(driving()).slow()) == []
