"""The last word before the valves: mode changes without a bump, heat, limits, slew, resolution, and what it flags."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from numpy.typing import NDArray

from dualduty.memory import Memory
from dualduty.trace import FLAG_FAULT, FLAG_HEAT, FLAG_LIMIT, FLAG_SLEW
from strategies.supervisor import Supervisor

Array = NDArray[np.float64]
Flags = NDArray[np.uint8]
DT = 0.002
FINE: dict[str, Any] = {"rise": 1000.0, "fall": 1000.0, "resolution": 1e-4}
COLD = 20.0


def wave(*values: float, rows: int = 8) -> Array:
    """The same in all rows."""
    return np.tile(np.array(values).reshape(1, -1, 1), (rows, 1, 1))


def steady(value: float, ticks: int, rows: int = 8) -> Array:
    """One value throughout."""
    return np.full((rows, ticks, 1), value)


def run(
    supervisor: Supervisor,
    asked: Array,
    warmth: Array | None = None,
    closed: Array | None = None,
    modes: tuple[tuple[int, float], ...] = (),
) -> tuple[Array, Flags]:
    """From fresh memory, one call for each stretch of one drive mode: `modes` names where each begins."""
    ticks, cases = asked.shape[1:]
    warmth = np.full((4, ticks, cases), COLD) if warmth is None else warmth
    closed = np.zeros(asked.shape) if closed is None else closed
    memory = Memory(DT)
    starts = modes or ((0, 0.0),)
    parts = []
    for (a, mode), (b, _) in pairwise((*starts, (ticks, 0.0))):
        memory.begin()
        chunk = [np.ascontiguousarray(array[:, a:b]) for array in (asked, warmth, closed)]
        parts.append(supervisor.run(chunk[0], chunk[1], np.full(cases, mode), chunk[2], memory))
        memory.end()
    duty, flags = (np.concatenate(part, axis=1) for part in zip(*parts, strict=True))
    return duty, flags


def test_what_is_inside_all_limits_passes_in_steps_of_the_resolution() -> None:
    asked = np.concatenate([steady(0.333, 10, 4), steady(0.55, 10, 4)])
    duty, flags = run(Supervisor(resolution=0.02), asked)
    np.testing.assert_allclose(duty[:4], 0.34, rtol=1e-15)  # 16.65 steps of 2 %; one rounding
    np.testing.assert_allclose(duty[4:], 0.56, rtol=1e-15)  # 27.5 steps: half goes to even
    assert not flags.any()


def test_limits_by_side_hold_after_rounding_and_are_flagged() -> None:
    limits = {"lowest_compression": 0.123, "highest_compression": 0.877, "highest_rebound": 0.6, "resolution": 0.05}
    duty, flags = run(Supervisor(**FINE | limits), wave(0.0, 0.123, 0.5, 0.877, 1.0, 0.95))
    np.testing.assert_allclose(duty[0, :, 0], [0.123, 0.123, 0.5, 0.877, 0.877, 0.877], rtol=1e-15)  # rounding
    np.testing.assert_array_equal(flags[0, :, 0], np.array([1, 0, 0, 0, 1, 1]) * FLAG_LIMIT)
    np.testing.assert_allclose(duty[4, :, 0], [0.0, 0.1, 0.5, 0.6, 0.6, 0.6], rtol=1e-15, atol=1e-15)  # rounding
    np.testing.assert_array_equal(flags[7, :, 0], np.array([0, 0, 0, 1, 1, 1]) * FLAG_LIMIT)


def test_limits_may_differ_by_corner() -> None:
    highest = np.array([0.2, 0.3, 0.4, 0.5]).reshape(4, 1, 1)
    duty, _ = run(Supervisor(highest_compression=highest), steady(0.9, 3))  # type: ignore[arg-type]
    np.testing.assert_allclose(duty[:4, 1, 0], highest[:, 0, 0], rtol=1e-15)
    np.testing.assert_allclose(duty[4:, 1, 0], 0.9, rtol=1e-15)


def test_slew_is_up_and_down_and_starts_on_the_first_sample() -> None:
    asked = np.concatenate([wave(0.2, 0.5, 0.5, 0.5, 0.5, 0.4, 0.4, 0.4, rows=4), steady(0.7, 8, 4)])
    duty, flags = run(Supervisor(rise=50.0, fall=25.0, resolution=1e-4), asked)
    expected = [0.2, 0.3, 0.4, 0.5, 0.5, 0.45, 0.4, 0.4]
    np.testing.assert_allclose(duty[2, :, 0], expected, rtol=0, atol=1e-12)  # rounding of steps of 1e-4
    np.testing.assert_array_equal(flags[2, :, 0], np.array([0, 1, 1, 0, 0, 1, 0, 0]) * FLAG_SLEW)
    np.testing.assert_allclose(duty[4:], 0.7, rtol=1e-12)
    assert not flags[4:].any()


def test_a_slow_ramp_is_not_eaten_by_the_resolution() -> None:
    """The state behind the slew limit is the duty before rounding."""
    duty, _ = run(Supervisor(rise=0.5, resolution=0.1), wave(0.0, *[1.0] * 399))
    np.testing.assert_allclose(duty[0, -1, 0], 0.4, rtol=1e-12)  # 399 ticks of 1e-3 is 0.399


def test_a_fallback_that_stands_is_flagged_where_it_does() -> None:
    closed = np.zeros((8, 5, 1))
    closed[2, 2:4] = 0.3
    _, flags = run(Supervisor(), steady(0.5, 5), closed=closed)
    np.testing.assert_array_equal(flags[2, :, 0], np.array([0, 0, 1, 1, 0]) * FLAG_FAULT)
    assert not np.delete(flags, 2, axis=0).any()


def test_a_hot_damper_gets_less_and_says_so() -> None:
    warmth = np.full((4, 6, 1), COLD)
    warmth[1, :, 0] = [119.0, 120.0, 135.0, 150.0, 400.0, 20.0]
    supervisor = Supervisor(**FINE | {"highest_compression": 0.9, "hot_highest_compression": 0.5, "hot_highest_rebound": 0.7})
    duty, flags = run(supervisor, steady(0.95, 6), warmth)
    np.testing.assert_allclose(duty[1, :, 0], [0.9, 0.9, 0.7, 0.5, 0.5, 0.9], rtol=1e-12)  # half way: half of 0.4
    np.testing.assert_allclose(duty[5, :, 0], [0.95, 0.95, 0.85, 0.7, 0.7, 0.95], rtol=1e-12)
    np.testing.assert_array_equal((flags[1, :, 0] & FLAG_HEAT) > 0, [False, False, True, True, True, False])
    np.testing.assert_array_equal((flags[5, :, 0] & FLAG_HEAT) > 0, [False, False, True, True, True, False])
    assert not (np.delete(flags, (1, 5), axis=0) & FLAG_HEAT).any()
    quiet, none = run(supervisor, steady(0.3, 6), warmth)
    np.testing.assert_allclose(quiet, 0.3, rtol=1e-12)  # what a hot damper may have anyway is neither moved nor flagged
    assert not none.any()


def test_heat_never_leads_below_the_lowest_duty_nor_above_the_highest() -> None:
    hot = np.full((4, 3, 1), 200.0)
    duty, _ = run(
        Supervisor(lowest_compression=0.4, hot_highest_compression=0.2, highest_rebound=0.5, hot_highest_rebound=0.8), steady(0.9, 3), hot
    )
    np.testing.assert_allclose(duty[:4], 0.4, rtol=1e-12)
    np.testing.assert_allclose(duty[4:], 0.5, rtol=1e-12)


def test_heat_without_a_span_is_a_step() -> None:
    warmth = np.repeat(np.array([99.0, 101.0]).reshape(1, 2, 1), 4, axis=0)
    duty, _ = run(Supervisor(**FINE | {"heat_from": 100.0, "heat_full": 100.0, "hot_highest_compression": 0.4}), steady(0.9, 2), warmth)
    np.testing.assert_allclose(duty[0, :, 0], [0.9, 0.4], rtol=1e-12)


def test_a_change_of_mode_comes_in_as_a_straight_line() -> None:
    ticks = 300
    asked = np.where(np.arange(ticks).reshape(1, -1, 1) < 100, 0.2, 0.8) * np.ones((8, 1, 1))
    duty, flags = run(Supervisor(**FINE | {"mode_blend": 0.2}), asked, modes=((0, 0.0), (100, 1.0)))
    left = np.clip(1.0 - np.arange(200) / 100, 0.0, 1.0)  # 0.2 s is 100 ticks
    np.testing.assert_allclose(duty[3, 100:, 0], 0.8 - 0.6 * left, atol=0.5e-4 + 1e-12)  # half a step of resolution
    assert not flags.any()


def test_the_step_of_a_change_of_mode_lies_over_what_the_laws_do_meanwhile() -> None:
    ticks = 100
    time = np.arange(ticks)
    asked = (np.where(time < 20, 0.1, 0.5) + 0.2 * np.sin(time / 9.0)).reshape(1, -1, 1) * np.ones((8, 1, 1))
    duty, _ = run(Supervisor(**FINE | {"mode_blend": 0.1}), asked, modes=((0, 2.0), (20, 0.0)))
    step = duty[0, 19, 0] - asked[0, 20, 0]
    left = np.clip(1.0 - np.arange(80) / 50, 0.0, 1.0)
    np.testing.assert_allclose(duty[0, 20:, 0] - asked[0, 20:, 0], step * left, atol=1e-4)  # two halves of a step of resolution


def test_a_second_change_within_the_first_makes_no_bump_either() -> None:
    asked = np.concatenate([steady(0.1, 50), steady(0.9, 20), steady(0.3, 60)], axis=1)
    duty, _ = run(Supervisor(**FINE | {"mode_blend": 0.1}), asked, modes=((0, 0.0), (50, 1.0), (70, 2.0)))
    # steepest: 0.8 in 50 ticks; one step of resolution on top
    assert np.abs(np.diff(duty, axis=1)).max() <= 0.8 / 50 + 1e-4 + 1e-12
    np.testing.assert_allclose(duty[0, -1, 0], 0.3, atol=1e-4)


def test_without_blend_a_change_of_mode_is_a_step_one_tick_late() -> None:
    asked = np.concatenate([steady(0.2, 5), steady(0.8, 5)], axis=1)
    duty, _ = run(Supervisor(**FINE | {"mode_blend": 0.0}), asked, modes=((0, 0.0), (5, 1.0)))
    np.testing.assert_allclose(duty[0, :, 0], [0.2] * 6 + [0.8] * 4, rtol=1e-12)


def test_a_jump_of_the_laws_in_one_mode_is_no_change_of_mode() -> None:
    asked = np.concatenate([steady(0.2, 5), steady(0.8, 5)], axis=1)
    duty, _ = run(Supervisor(**FINE), asked, modes=((0, 1.0), (5, 1.0)))
    np.testing.assert_allclose(duty[0, :, 0], [0.2] * 5 + [0.8] * 5, rtol=1e-12)


def test_modes_are_those_of_each_case() -> None:
    asked = np.concatenate([np.full((8, 5, 2), 0.2), np.full((8, 5, 2), 0.8)], axis=1)
    supervisor, memory = Supervisor(**FINE), Memory(DT)
    parts = []
    for part, mode in ((asked[:, :5], [0.0, 1.0]), (asked[:, 5:], [0.0, 2.0])):
        memory.begin()
        chunk = np.ascontiguousarray(part)
        parts.append(supervisor.run(chunk, np.full((4, 5, 2), COLD), np.array(mode), np.zeros(chunk.shape), memory)[0])
        memory.end()
    np.testing.assert_allclose(parts[1][0, 0], [0.8, 0.2], rtol=1e-12)


@given(
    asked=arrays(np.float64, (8, 12, 1), elements=st.floats(-3, 3)), warmth=arrays(np.float64, (4, 12, 1), elements=st.floats(-40, 300)),
    lowest=st.floats(0.0, 0.4), highest=st.floats(0.5, 1.0), rise=st.floats(0.5, 1000.0), fall=st.floats(0.5, 1000.0),
    resolution=st.floats(1e-4, 0.1), cut=st.integers(1, 11), blend=st.floats(0.0, 1.0),
)  # fmt: skip
def test_whatever_is_asked_the_command_keeps_its_limits(  # noqa: PLR0913, PLR0917 - what may be asked
    asked: Array, warmth: Array, lowest: float, highest: float, rise: float, fall: float, resolution: float, cut: int, blend: float
) -> None:
    limits = {f"{name}_{side}": value for name, value in (("lowest", lowest), ("highest", highest)) for side in ("compression", "rebound")}
    supervisor = Supervisor(rise=rise, fall=fall, resolution=resolution, mode_blend=blend, **limits)
    duty, flags = run(supervisor, asked, warmth, modes=((0, 0.0), (cut, 1.0)))
    assert ((duty >= lowest) & (duty <= highest)).all()
    steps = np.diff(duty, axis=1)
    # one step of resolution either way comes on top of the slew: half at each end
    assert steps.max() <= rise * DT + resolution + 1e-12
    assert steps.min() >= -fall * DT - resolution - 1e-12
    quiet = (flags == 0) & (np.arange(12).reshape(1, -1, 1) < cut)
    assert (np.abs(duty - asked)[quiet] <= resolution / 2 + 1e-9).all()
    one, other = (
        run(supervisor, asked, warmth, modes=((0, 0.0), (cut, 1.0))),
        run(supervisor, asked, warmth, modes=((0, 0.0), *((at, 1.0) for at in range(cut, 12)))),
    )
    for whole, ticks in zip(one, other, strict=True):
        np.testing.assert_array_equal(whole, ticks)


@pytest.mark.parametrize("wrong", ["asked", "warmth"])
def test_views_are_taken_too(wrong: str) -> None:
    """What comes may be a cut out of larger arrays."""
    asked, warmth = np.full((8, 4, 2), 0.5)[:, ::2], np.full((4, 4, 2), COLD)[:, ::2]
    whole = {"asked": asked, "warmth": warmth}
    given_arrays = {name: array if name == wrong else np.ascontiguousarray(array) for name, array in whole.items()}
    memory = Memory(DT)
    memory.begin()
    duty, _ = Supervisor().run(given_arrays["asked"], given_arrays["warmth"], np.zeros(2), np.zeros((8, 2, 2)), memory)
    memory.end()
    np.testing.assert_allclose(duty, 0.5, rtol=1e-12)
