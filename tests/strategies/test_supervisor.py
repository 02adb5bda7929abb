"""The last word before the valves: fallback, limits, slew, resolution, and what it flags."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from numpy.typing import NDArray

from dualduty.memory import Memory
from dualduty.signals import CONTROLLER_SIGNALS, SIDES
from dualduty.trace import FLAG_FAULT, FLAG_LIMIT, FLAG_SLEW
from strategies.supervisor import BODY_CHANNELS, Supervisor

Array = NDArray[np.float64]
Flags = NDArray[np.uint8]
DT = 0.002
ALL = tuple(signal.name for signal in CONTROLLER_SIGNALS)
FINE = {"rise": 1000.0, "fall": 1000.0, "resolution": 1e-4}


def believed(ticks: int, cases: int = 1) -> dict[str, Array]:
    """Every channel believed."""
    return {signal.name: np.ones((signal.corners, ticks, cases)) for signal in CONTROLLER_SIGNALS}


def asked(compression: Array | float, rebound: Array | float = 0.5, ticks: int = 10) -> dict[str, Array]:
    """Duties by side, (4, time, 1)."""
    return {side: np.ascontiguousarray(np.zeros((4, ticks, 1)) + value) for side, value in zip(SIDES, (compression, rebound), strict=True)}


def run(
    supervisor: Supervisor, wanted: dict[str, Array], valid: dict[str, Array] | None = None, used: tuple[str, ...] = ALL
) -> tuple[dict[str, Array], dict[str, Flags]]:
    """One chunk from fresh memory."""
    memory = Memory(DT)
    memory.begin()
    made = supervisor.run(wanted, valid or believed(wanted["rebound"].shape[1]), used, memory)
    memory.end()
    return made


def wave(*values: float) -> Array:
    """The same at four corners."""
    return np.tile(np.array(values).reshape(1, -1, 1), (4, 1, 1))


def test_what_is_inside_all_limits_passes_in_steps_of_the_resolution() -> None:
    duty, flags = run(Supervisor(resolution=0.02), asked(0.333, 0.55))
    np.testing.assert_allclose(duty["compression"], 0.34, rtol=1e-15)  # 16.65 steps of 2 %; one rounding
    np.testing.assert_allclose(duty["rebound"], 0.56, rtol=1e-15)  # 27.5 steps: half goes to even
    assert not any(flag.any() for flag in flags.values())


def test_limits_hold_after_rounding_and_are_flagged() -> None:
    supervisor = Supervisor(**FINE | {"lowest": 0.123, "highest": 0.877, "resolution": 0.05})
    duty, flags = run(supervisor, asked(wave(0.0, 0.123, 0.5, 0.877, 1.0, 0.95), 1.3, ticks=6))
    np.testing.assert_allclose(duty["compression"][0, :, 0], [0.123, 0.123, 0.5, 0.877, 0.877, 0.877], rtol=1e-15)  # rounding
    np.testing.assert_array_equal(flags["compression"][0, :, 0], np.array([1, 0, 0, 0, 1, 1]) * FLAG_LIMIT)
    assert (duty["rebound"] == 0.877).all()


def test_slew_is_by_side_up_and_down_and_starts_on_the_first_sample() -> None:
    supervisor = Supervisor(rise=50.0, fall=25.0, resolution=1e-4)
    duty, flags = run(supervisor, asked(wave(0.2, 0.5, 0.5, 0.5, 0.5, 0.4, 0.4, 0.4), 0.7, ticks=8))
    expected = [0.2, 0.3, 0.4, 0.5, 0.5, 0.45, 0.4, 0.4]
    np.testing.assert_allclose(duty["compression"][2, :, 0], expected, rtol=0, atol=1e-12)  # rounding of steps of 1e-4
    np.testing.assert_array_equal(flags["compression"][2, :, 0], np.array([0, 1, 1, 0, 0, 1, 0, 0]) * FLAG_SLEW)
    np.testing.assert_allclose(duty["rebound"], 0.7, rtol=1e-12)
    assert not flags["rebound"].any()


def test_a_slow_ramp_is_not_eaten_by_the_resolution() -> None:
    """The state behind the slew limit is the duty before rounding."""
    duty, _ = run(Supervisor(rise=0.5, resolution=0.1), asked(wave(0.0, *[1.0] * 399), ticks=400))
    np.testing.assert_allclose(duty["compression"][0, -1, 0], 0.4, rtol=1e-12)  # 399 ticks of 1e-3 is 0.399


def _fault(channel: str, corner: int | None, used: tuple[str, ...] = ALL) -> tuple[dict[str, Array], dict[str, Flags]]:
    ticks = 60
    valid = believed(ticks)
    valid[channel][slice(None) if corner is None else slice(corner, corner + 1), 10:40] = 0.0
    supervisor = Supervisor(**FINE | {"fault_after": 0.01, "fault_clears": 0.02, "fallback_compression": 0.9, "fallback_rebound": 0.1})
    return run(supervisor, asked(0.4, 0.6, ticks=ticks), valid, used)


@pytest.mark.parametrize(
    ("channel", "corner", "hit"),
    [
        ("shaft_travel", 2, [2]),
        ("shaft_travel", 0, [0]),
        *[(name, None, [0, 1, 2, 3]) for name in BODY_CHANNELS],
        ("wheel_speed", None, [0, 1, 2, 3]),
        ("wheel_speed", 1, []),  # three wheels still tell the speed
        ("steer_angle", None, []),
        ("brake", None, []),
    ],
)
def test_which_corners_fall_back_on_which_fault(channel: str, corner: int | None, hit: list[int]) -> None:
    duty, flags = _fault(channel, corner)
    # bad from tick 10 for more than 10 ms: in at 15; good from tick 40 for more than 20 ms: out at 50
    inside = np.zeros((4, 60, 1), bool)
    inside[hit, 15:50] = True
    np.testing.assert_array_equal((flags["compression"] & FLAG_FAULT) > 0, inside)
    np.testing.assert_array_equal((flags["rebound"] & FLAG_FAULT) > 0, inside)
    np.testing.assert_allclose(duty["compression"], np.where(inside, 0.9, 0.4), rtol=1e-12)  # rounding; 2.0 a tick hides the slew
    np.testing.assert_allclose(duty["rebound"], np.where(inside, 0.1, 0.6), rtol=1e-12)


@pytest.mark.parametrize(("channel", "corner"), [("shaft_travel", 2), ("yaw_rate", None), ("wheel_speed", None)])
def test_a_channel_that_no_plug_in_reads_causes_no_fallback(channel: str, corner: int | None) -> None:
    duty, flags = _fault(channel, corner, used=tuple(name for name in ALL if name != channel))
    assert not flags["compression"].any()
    np.testing.assert_allclose(duty["compression"], 0.4, rtol=1e-12)


def test_a_short_dropout_causes_no_fallback() -> None:
    valid = believed(20)
    valid["roll_rate"][:, 5:9] = 0.0
    _, flags = run(Supervisor(fault_after=0.01), asked(0.4, ticks=20), valid)
    assert not flags["compression"].any()


def test_the_fallback_too_obeys_limits_and_slew() -> None:
    valid = believed(40)
    valid["roll_rate"][:, 5:] = 0.0
    supervisor = Supervisor(fault_after=0.0, fallback_compression=1.0, highest=0.8, rise=10.0, resolution=1e-4)
    duty, flags = run(supervisor, asked(0.4, ticks=40), valid)
    assert np.diff(duty["compression"], axis=1).max() <= 10.0 * DT + 1e-9
    assert duty["compression"].max() == pytest.approx(0.8)
    assert flags["compression"][0, 5, 0] == FLAG_FAULT | FLAG_LIMIT | FLAG_SLEW


def test_fallbacks_may_differ_by_corner_and_case() -> None:
    fallback = np.linspace(0.1, 0.8, 8).reshape(4, 1, 2)
    valid = believed(5, 2)
    valid["roll_rate"][:] = 0.0
    supervisor = Supervisor(**FINE | {"fault_after": 0.0, "fallback_compression": fallback})  # type: ignore[arg-type]
    duty, _ = run(supervisor, {side: np.full((4, 5, 2), 0.3) for side in SIDES}, valid)
    np.testing.assert_allclose(duty["compression"][:, 3], fallback[:, 0], atol=1e-12)  # rounding


@given(
    wanted=arrays(np.float64, (4, 12, 1), elements=st.floats(-3, 3)),
    lowest=st.floats(0.0, 0.4), highest=st.floats(0.5, 1.0), rise=st.floats(0.5, 1000.0), fall=st.floats(0.5, 1000.0),
    resolution=st.floats(1e-4, 0.1),
)  # fmt: skip
def test_whatever_is_asked_the_command_keeps_its_limits(
    wanted: Array, lowest: float, highest: float, rise: float, fall: float, resolution: float
) -> None:
    supervisor = Supervisor(lowest=lowest, highest=highest, rise=rise, fall=fall, resolution=resolution)
    duty, flags = run(supervisor, dict.fromkeys(SIDES, wanted), believed(12))
    for side in SIDES:
        assert ((duty[side] >= lowest) & (duty[side] <= highest)).all()
        steps = np.diff(duty[side], axis=1)
        # one step of resolution either way comes on top of the slew: half at each end
        assert steps.max() <= rise * DT + resolution + 1e-12
        assert steps.min() >= -fall * DT - resolution - 1e-12
        quiet = flags[side] == 0
        assert (np.abs(duty[side] - wanted)[quiet] <= resolution / 2 + 1e-9).all()
