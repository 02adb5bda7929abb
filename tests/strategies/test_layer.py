"""One layer on what lies beneath: how it acts, when it opens, who is recorded as having decided."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from dualduty.car import Car
from dualduty.contract import Chunk, Duty, Force, State
from dualduty.memory import Memory
from dualduty.signals import SIDES
from dualduty.trace import FLAG_CLAMP, FLAG_TRIM
from strategies.demand_maps import DemandMaps
from strategies.layer import LayerSettings, Mapping, Stack, join_forces

Array = NDArray[np.float64]
OPEN = np.ones((1, 1, 1))
DUTY = st.floats(0.0, 1.0)


def duty(value: float, side: str = "compression") -> Duty:
    """One side at one value, one tick, one case."""
    return Duty(**{side: np.full((1, 1, 1), value)})


def laid(*layers: tuple[str, float, float]) -> Stack:
    """A stack of (act, share, duty) on the compression side."""
    stack = Stack.empty(1, 1)
    for index, (act, share, wanted) in enumerate(layers):
        stack.lay(index, act, share * OPEN, duty(wanted), None)
    return stack


@pytest.mark.parametrize(
    ("act", "share", "wanted", "expected", "decides"),
    [
        ("set", 1.0, 0.8, 0.8, True),
        ("set", 0.5, 0.8, 0.6, True),
        ("set", 0.49, 0.8, 0.596, False),
        ("set", 1.0, 0.4, 0.4, True),  # even where it asks for what is there
        ("set", 0.0, 0.8, 0.4, False),
        ("raise", 1.0, 0.8, 0.8, True),
        ("raise", 1.0, 0.3, 0.4, False),
        ("raise", 0.25, 0.8, 0.5, True),
        ("raise", 1.0, 0.4024, 0.4024, False),  # moved by less than a quarter of a per cent
        ("raise", 1.0, 0.4026, 0.4026, True),
        ("cap", 1.0, 0.3, 0.3, True),
        ("cap", 1.0, 0.8, 0.4, False),
        ("cap", 0.5, 0.2, 0.3, True),
        ("add", 1.0, 0.1, 0.5, False),
        ("add", 0.5, 0.1, 0.45, False),
        ("add", 1.0, -0.1, 0.3, False),
    ],
)
def test_how_a_layer_acts_on_forty_per_cent(act: str, share: float, wanted: float, expected: float, decides: bool) -> None:
    stack = laid(("set", 1.0, 0.4), (act, share, wanted))
    # atol: three roundings of numbers below 1
    np.testing.assert_allclose(stack.duty["compression"], expected, rtol=0, atol=3e-16)
    assert (stack.layer["compression"] == int(decides)).all()
    assert (stack.flags["compression"] == (FLAG_TRIM if act == "add" else 0)).all()
    assert (stack.duty["rebound"] == 0.0).all()  # None leaves a side alone
    assert (stack.layer["rebound"] == 0).all()


def test_an_add_of_nothing_sets_no_trim_flag() -> None:
    assert (laid(("set", 1.0, 0.4), ("add", 1.0, 0.0)).flags["compression"] == 0).all()
    assert (laid(("set", 1.0, 0.4), ("add", 0.0, 0.5)).flags["compression"] == 0).all()


@given(below=DUTY, share=DUTY, wanted=DUTY)
def test_bounds_of_every_act(below: float, share: float, wanted: float) -> None:
    for act in ("set", "raise", "cap"):
        made = laid(("set", 1.0, below), (act, share, wanted)).duty["compression"][0, 0, 0]
        assert min(below, wanted) - 1e-15 <= made <= max(below, wanted) + 1e-15  # one rounding
        if act == "raise":
            assert made >= below
        if act == "cap":
            assert made <= below


@pytest.mark.parametrize("act", ["set", "add", "raise", "cap"])
def test_not_a_number_is_never_swallowed(act: str) -> None:
    for share in (0.0, 1.0):
        assert np.isnan(laid(("set", 1.0, 0.4), (act, share, float("nan"))).duty["compression"]).all()


def test_corners_are_separate() -> None:
    wanted = np.array([0.8, 0.2, 0.5, 0.9]).reshape(4, 1, 1)
    share = np.array([1.0, 1.0, 0.0, 0.5]).reshape(4, 1, 1)
    stack = Stack.empty(1, 1)
    stack.lay(0, "set", OPEN, Duty(np.full((1, 1, 1), 0.3), np.full((1, 1, 1), 0.3)), None)
    stack.lay(1, "set", share, Duty(wanted, 1.0 - wanted), None)
    np.testing.assert_allclose(np.ravel(stack.duty["compression"]), [0.8, 0.2, 0.3, 0.6], atol=1e-15)  # rounding
    np.testing.assert_allclose(np.ravel(stack.duty["rebound"]), [0.2, 0.8, 0.3, 0.2], atol=1e-15)
    np.testing.assert_array_equal(np.ravel(stack.layer["compression"]), [1, 1, 0, 1])


# ---------------------------------------------------------------------------------------------------- forces


@pytest.fixture(scope="module")
def mapping(car: Car) -> Mapping:
    """The car's maps at speeds that differ by corner, over the cases 0.2, 0.4 and 0.9 m/s."""
    speed = np.array([1.0, 1.1, 0.9, 1.2]).reshape(4, 1, 1) * np.array([0.2, 0.4, 0.9])
    return Mapping(DemandMaps.of(car), dict.fromkeys(SIDES, speed))


def force_stack(mapping: Mapping, base: float, act: str, force: Force, share: float = 1.0) -> Stack:
    """A force on a base duty."""
    stack = Stack.empty(1, 3)
    stack.lay(0, "set", np.ones((1, 1, 3)), Duty(np.full((1, 1, 3), base), np.full((1, 1, 3), base)), mapping)
    stack.lay(1, act, np.full((1, 1, 3), share), force, mapping)
    return stack


@pytest.mark.parametrize("act", ["raise", "cap"])
def test_raise_and_cap_commute_with_the_map_to_the_bit(act: str, mapping: Mapping) -> None:
    """Duty of the larger force = larger of the duties."""
    random = np.random.default_rng(4)
    pick = np.maximum if act == "raise" else np.minimum
    for _ in range(50):
        one, two = random.uniform(0.0, 4000.0, (2, 4, 1, 3))
        stack = Stack.empty(1, 3)
        stack.lay(0, "set", np.ones((1, 1, 3)), Force(one, one), mapping)
        stack.lay(1, act, np.ones((1, 1, 3)), Force(two, two), mapping)
        for side in SIDES:
            expected, _ = mapping.maps.duty(side, mapping.speed[side], pick(one, two))
            np.testing.assert_array_equal(stack.duty[side], expected)


def test_add_of_a_force_adds_newtons_to_the_force_beneath(mapping: Mapping) -> None:
    extra = np.full((1, 1, 3), 120.0)
    for base in (0.1, 0.4, 0.7):
        stack = force_stack(mapping, base, "add", Force(extra, -0.5 * extra))
        for side, newtons in (("compression", 120.0), ("rebound", -60.0)):
            speed = mapping.speed[side]
            before = mapping.maps.force(side, speed, np.full(speed.shape, base))
            after = mapping.maps.force(side, speed, stack.duty[side])
            inside = (stack.flags[side] & FLAG_CLAMP) == 0
            assert inside.any()
            # atol: map and inverse of forces of some kN; measured 5e-13 N
            np.testing.assert_allclose((after - before)[inside], newtons, rtol=0, atol=1e-11)
            assert (stack.flags[side] & FLAG_TRIM).all()
            assert (stack.layer[side] == 0).all()


def test_a_force_out_of_reach_is_flagged_where_the_layer_is_open(mapping: Mapping) -> None:
    huge = Force(compression=np.full((1, 1, 3), 1e5))
    stack = force_stack(mapping, 0.3, "raise", huge)
    assert (stack.flags["compression"] == FLAG_CLAMP).all()
    np.testing.assert_array_equal(stack.duty["compression"], 1.0)
    assert (stack.flags["rebound"] == 0).all()
    assert (force_stack(mapping, 0.3, "raise", huge, share=0.0).flags["compression"] == 0).all()


@pytest.mark.parametrize("act", ["set", "add", "raise", "cap"])
def test_a_force_that_is_not_a_number_is_never_swallowed(act: str, mapping: Mapping) -> None:
    assert np.isnan(force_stack(mapping, 0.3, act, Force(compression=np.full((1, 1, 3), np.nan))).duty["compression"]).all()


def test_forces_are_joined_per_side() -> None:
    a, b = np.full((4, 1, 1), 300.0), np.full((1, 1, 1), 500.0)
    largest = join_forces([Force(a, a), Force(b, None), Force(None, 0.1 * b)], "max")
    summed = join_forces([Force(a, a), Force(b, None), Force(None, 0.1 * b)], "sum")
    assert largest.compression is not None
    assert summed.rebound is not None
    np.testing.assert_array_equal(largest.compression, np.full((4, 1, 1), 500.0))
    np.testing.assert_array_equal(summed.compression, np.full((4, 1, 1), 800.0))
    np.testing.assert_array_equal(largest.rebound, a)
    np.testing.assert_array_equal(summed.rebound, np.full((4, 1, 1), 350.0))
    assert join_forces([Force(a), Force(b)], "sum").rebound is None


def test_the_largest_force_and_the_larger_duty_are_one(mapping: Mapping) -> None:
    """Joining by max in force, then raising, is raising twice."""
    one, two = np.full((4, 1, 3), 700.0), np.linspace(200.0, 1500.0, 12).reshape(4, 1, 3)
    joined = force_stack(mapping, 0.2, "raise", join_forces([Force(one, one), Force(two, two)], "max"))
    twice = force_stack(mapping, 0.2, "raise", Force(one, one))
    twice.lay(2, "raise", np.ones((1, 1, 3)), Force(two, two), mapping)
    for side in SIDES:
        np.testing.assert_array_equal(joined.duty[side], twice.duty[side])


# ---------------------------------------------------------------------------------------------------- opening


def now(ticks: int = 6, **states: str | State) -> Chunk:
    """Whole-vehicle states written as digits."""
    made: dict[str, Any] = {"specific_force_z": np.full((1, ticks, 1), 9.8)}
    for name, value in states.items():
        made[name] = value if isinstance(value, State) else State(np.array([float(x) for x in value]).reshape(1, -1, 1))
    return Chunk(0.01, made)


def opened(settings: LayerSettings, chunk: Chunk, when: tuple[str, ...], unless: tuple[str, ...] = ()) -> Array:
    """Share over time, at all four corners."""
    share = settings.opening(chunk, when, unless, Memory(0.01))
    return np.broadcast_to(share, (4, chunk.specific_force_z.shape[1], share.shape[2]))


def test_when_is_any_of_and_unless_none_of() -> None:
    chunk = now(a="001100", b="010010", c="000110", d="100000")
    np.testing.assert_array_equal(opened(LayerSettings(), chunk, ("a", "b"))[2, :, 0], [0, 1, 1, 1, 1, 0])
    np.testing.assert_array_equal(opened(LayerSettings(), chunk, ("a", "b"), ("c", "d"))[2, :, 0], [0, 1, 1, 0, 0, 0])
    np.testing.assert_array_equal(opened(LayerSettings(), chunk, (), ("c", "d"))[2, :, 0], [0, 1, 1, 0, 0, 1])
    np.testing.assert_array_equal(opened(LayerSettings(), chunk, ())[2, :, 0], 1)


def test_a_vehicle_state_opens_all_corners_and_a_corner_state_its_own() -> None:
    corner = np.zeros((4, 6, 1))
    corner[1, 2:] = 1.0
    chunk = now(vehicle="000111", corner=State(corner))
    np.testing.assert_array_equal(opened(LayerSettings(), chunk, ("vehicle",))[:, 4, 0], 1)
    np.testing.assert_array_equal(opened(LayerSettings(), chunk, ("corner",))[:, 4, 0], [0, 1, 0, 0])
    np.testing.assert_array_equal(opened(LayerSettings(), chunk, ("vehicle",), ("corner",))[:, 4, 0], [1, 0, 1, 1])
    np.testing.assert_array_equal(opened(LayerSettings(), chunk, ("corner", "vehicle"))[:, 2, 0], [0, 1, 0, 0])


def test_the_weight_ramps_linearly_to_the_gate() -> None:
    settings = LayerSettings(fade_in=0.04, fade_out=0.02, weight=0.8)
    share = opened(settings, now(9, a="011111000"), ("a",))[0, :, 0]
    np.testing.assert_allclose(share, 0.8 * np.array([0, 0.25, 0.5, 0.75, 1, 1, 0.5, 0, 0]), atol=1e-15)  # rounding


def test_weight_by_corner_and_switch_by_case() -> None:
    weight = np.array([1.0, 0.5, 0.25, 0.0]).reshape(4, 1, 1)
    settings = LayerSettings(weight=weight, enabled=np.array([1.0, 0.0]).reshape(1, 1, 2))  # type: ignore[arg-type]
    chunk = Chunk(0.01, {"specific_force_z": np.zeros((1, 3, 2)), "a": State(np.ones((1, 3, 2)))})
    for when in ((), ("a",)):
        share = opened(settings, chunk, when)
        np.testing.assert_array_equal(share[:, 1, 0], [1.0, 0.5, 0.25, 0.0])
        np.testing.assert_array_equal(share[:, 1, 1], 0.0)


@pytest.mark.parametrize(("follows", "expected"), [(0.0, 1.0), (1.0, 0.3), (0.5, 0.65)])
def test_the_opening_may_follow_the_strength(follows: float, expected: float) -> None:
    state = State(np.ones((1, 6, 1)), np.full((1, 6, 1), 0.3))
    share = opened(LayerSettings(follow_strength=follows), now(a=state), ("a",))
    np.testing.assert_allclose(share, expected, rtol=1e-15)  # rounding


def test_a_chunk_of_one_tick_goes_on_with_the_fade() -> None:
    settings: LayerSettings = LayerSettings(fade_in=0.05)
    memory = Memory(0.01)
    shares: list[float] = []
    run: Callable[[Chunk], Array] = lambda chunk: settings.opening(chunk, ("a",), (), memory)  # noqa: E731
    for gate in "011111":
        memory.begin()
        shares.append(float(run(now(1, a=gate))[0, 0, 0]))
        memory.end()
    np.testing.assert_allclose(shares, [0, 0.2, 0.4, 0.6, 0.8, 1.0], atol=1e-15)  # rounding
