"""The stack of layers: how each acts on what lies beneath, when and where it opens, who is recorded as having decided."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from dualduty.calibration.model import LayerPlan
from dualduty.car import Car
from dualduty.discovery import Found
from dualduty.signals import CONTROLLER_LAYOUT, SIDES
from dualduty.trace import FLAG_CLAMP, FLAG_FAULT, FLAG_TRIM
from strategies.dependence import corner_of_rows
from strategies.gates import ANY, EVERY, THIS_CORNER
from strategies.layer import LayerSettings, layer_record
from strategies.stack import LAYER, STATE, stack_kernel

Array = NDArray[np.float64]
DT = 0.01
DUTY = st.floats(0.0, 1.0)
SIGNALS = CONTROLLER_LAYOUT.size


@dataclass(frozen=True)
class Demand:
    """What a law of a layer asks for, by side; arrays (1 or 4, time or 1, case or 1)."""

    compression: Any = None
    rebound: Any = None
    force: bool = False


@dataclass(frozen=True)
class Layer:
    """A layer with its laws' demands."""

    act: str
    demands: tuple[Demand, ...]
    settings: LayerSettings = field(default_factory=LayerSettings)
    when: tuple[str, ...] = ()
    unless: tuple[str, ...] = ()
    corners: tuple[str, ...] = ()
    join: str = "max"


@dataclass
class Result:
    """What came out, (8, time, case)."""

    asked: Array
    closed: Array
    decided: NDArray[np.int16]
    flags: NDArray[np.uint8]
    shares: Array
    wanted: Array
    after: Array

    def side(self, name: str, values: NDArray[Any]) -> NDArray[Any]:
        """One side of an (8, ...) array."""
        return values[:4] if name == "compression" else values[4:]


@dataclass
class Bench:
    """A board with states by name, on which stacks are laid."""

    shape: tuple[int, int] = (1, 1)
    maps: dict[str, Array] = field(default_factory=dict)
    speeds: dict[str, Array] = field(default_factory=dict)
    states: dict[str, Array] = field(default_factory=dict)
    strengths: dict[str, Array] = field(default_factory=dict)
    lost: Array | None = None
    needs: tuple[dict[int, int], ...] = ()
    packed: Array = field(default_factory=lambda: np.zeros(1))
    places: tuple[int, ...] = (0, 0, 0, 0)
    fallback: Array = field(default_factory=lambda: np.full((8, 1, 1), 0.5))

    def __post_init__(self) -> None:
        self.rows: dict[str, tuple[int, int]] = {}
        self.parts: list[Array] = []

    def put(self, name: str, values: Any) -> None:
        """Rows of the board: (1 or 4, time, case)."""
        array = np.asarray(values, float)
        self.rows[name] = (sum(len(part) for part in self.parts), len(array))
        self.parts.append(np.broadcast_to(array, (len(array), *self.shape)).reshape(len(array), -1))

    def lay(self, *layers: Layer, record: bool = False, memory: Array | None = None) -> Result:
        """All layers over all ticks and cases."""
        self.rows, self.parts = {}, []
        for name, values in self.states.items():
            self.put(name, values)
            self.put(f"{name}_strength", self.strengths.get(name, values))
        records = [self._record(index, layer) for index, layer in enumerate(layers)]
        references = [-1, -1]
        demands = min(row for name, (row, _) in self.rows.items() if name.startswith("layer 0."))
        for index, (name, values) in enumerate(self.speeds.items()):
            self.put(f"reference {name}", values)
            references[index] = self.rows[f"reference {name}"][0]
        width = self.shape[0] * self.shape[1]
        calibrated = [layer.settings.values(DT) for layer in layers]
        cases = max(len(each) for each in calibrated)
        needs = np.zeros((len(layers), SIGNALS), np.int64)
        for index, entry in enumerate(self.needs):
            for row, need in entry.items():
                needs[index, row] = need
        lost = np.zeros((SIGNALS, width)) if self.lost is None else np.ascontiguousarray(self.lost.reshape(SIGNALS, width))
        asked, closed = np.empty((8, width)), np.empty((8, width))
        decided, flags = np.empty((8, width), np.int16), np.empty((8, width), np.uint8)
        noted = np.full((3, len(layers) if record else 0, 8, width), np.nan)
        state = np.zeros((self.shape[1], STATE * len(layers))) if memory is None else memory
        stack_kernel(
            np.array(records, LAYER), np.ascontiguousarray(np.concatenate(self.parts)),
            np.ascontiguousarray(np.stack([np.broadcast_to(each, (cases, each.shape[1])) for each in calibrated], axis=1)), state,
            self.packed, np.array([*self.places, *references, demands], np.int64), self.fallback, lost, needs, corner_of_rows(),
            asked, closed, decided, flags, *noted, *self.shape,
        )  # fmt: skip
        shaped = [array.reshape(8, *self.shape) for array in (asked, closed, decided, flags)]
        return Result(*shaped, *(part.reshape(-1, 8, *self.shape) for part in (noted[1], noted[0], noted[2])))  # type: ignore[arg-type]

    def _record(self, index: int, layer: Layer) -> Any:
        laws = []
        for number, demand in enumerate(layer.demands):
            returns = "Force" if demand.force else "Duty"
            laws.append(Found(type(f"Law{number}", (), {}), "law", Path(), (), {}, (), returns))
            for side in SIDES:
                wanted = getattr(demand, side)
                if wanted is not None:
                    array = np.asarray(wanted, float)
                    self.put(f"layer {index}.Law{number}.{side}", np.broadcast_to(array, (4, *array.shape[1:])))
        plan = LayerPlan(
            f"layer {index}", tuple(law.name for law in laws), layer.act, layer.join, layer.when, layer.unless, {}, {}, layer.corners
        )
        return layer_record(plan, laws, self.rows)


def duty(act: str, share: float, wanted: float) -> Layer:
    """A layer on the compression side, open to a share."""
    return Layer(act, (Demand(compression=np.full((1, 1, 1), wanted)),), LayerSettings(weight=share))


def laid(*layers: tuple[str, float, float]) -> Result:
    """A stack of (act, share, duty) on the compression side."""
    return Bench().lay(*(duty(*layer) for layer in layers))


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
        ("add", 1.0, -0.5, 0.0, False),  # what is added stays within 0..1
        ("add", 1.0, 0.7, 1.0, False),
    ],
)
def test_how_a_layer_acts_on_forty_per_cent(act: str, share: float, wanted: float, expected: float, decides: bool) -> None:
    stack = laid(("set", 1.0, 0.4), (act, share, wanted))
    # atol: three roundings of numbers below 1
    np.testing.assert_allclose(stack.asked[:4], expected, rtol=0, atol=3e-16)
    assert (stack.decided[:4] == int(decides)).all()
    assert (stack.flags[:4] == (FLAG_TRIM if act == "add" and share else 0)).all()
    assert (stack.asked[4:] == 0.0).all()  # a law that says nothing of a side leaves it alone
    assert (stack.decided[4:] == 0).all()


def test_an_add_of_nothing_sets_no_trim_flag() -> None:
    assert (laid(("set", 1.0, 0.4), ("add", 1.0, 0.0)).flags == 0).all()
    assert (laid(("set", 1.0, 0.4), ("add", 0.0, 0.5)).flags == 0).all()


@given(below=DUTY, share=DUTY, wanted=DUTY)
def test_bounds_of_every_act(below: float, share: float, wanted: float) -> None:
    for act in ("set", "raise", "cap"):
        made = laid(("set", 1.0, below), (act, share, wanted)).asked[0, 0, 0]
        assert min(below, wanted) - 1e-15 <= made <= max(below, wanted) + 1e-15  # one rounding
        if act == "raise":
            assert made >= below
        if act == "cap":
            assert made <= below


@pytest.mark.parametrize("act", ["set", "add", "raise", "cap"])
def test_not_a_number_is_never_swallowed(act: str) -> None:
    for share in (0.0, 1.0):
        assert np.isnan(laid(("set", 1.0, 0.4), (act, share, float("nan"))).asked[:4]).all()


def test_corners_are_separate() -> None:
    wanted = np.array([0.8, 0.2, 0.5, 0.9]).reshape(4, 1, 1)
    share = np.array([1.0, 1.0, 0.0, 0.5]).reshape(4, 1, 1)
    base = Layer("set", (Demand(np.full((1, 1, 1), 0.3), np.full((1, 1, 1), 0.3)),))
    stack = Bench().lay(base, Layer("set", (Demand(wanted, 1.0 - wanted),), LayerSettings(weight=share)))  # type: ignore[arg-type]
    np.testing.assert_allclose(stack.asked[:, 0, 0], [0.8, 0.2, 0.3, 0.6, 0.2, 0.8, 0.3, 0.2], atol=1e-15)  # rounding
    np.testing.assert_array_equal(stack.decided[:4, 0, 0], [1, 1, 0, 1])


def test_the_record_says_what_each_layer_asked_for_its_share_and_what_came_of_it() -> None:
    bench = Bench()
    layers = (duty("set", 1.0, 0.4), duty("raise", 0.5, 0.8), duty("cap", 0.0, 0.1))
    stack = bench.lay(*layers, record=True)
    np.testing.assert_allclose(stack.wanted[:, 0, 0, 0], [0.4, 0.8, 0.1], atol=1e-15)
    np.testing.assert_allclose(stack.shares[:, 0, 0, 0], [1.0, 0.5, 0.0], atol=1e-15)
    np.testing.assert_allclose(stack.after[:, 0, 0, 0], [0.4, 0.6, 0.6], atol=1e-15)
    assert np.isnan(stack.wanted[:, 4]).all()
    np.testing.assert_array_equal(bench.lay(*layers).asked, stack.asked)  # with or without it, the same bits
    np.testing.assert_array_equal(stack.after[-1], stack.asked)


# ---------------------------------------------------------------------------------------------------- forces


def forces(car: Car, side: str, speed: Array, duties: Array) -> Array:
    """Force at all corners, each by its own map. [N]"""
    return np.concatenate([car.damper_map(side, corner).force(speed[[corner]], duties[[corner]]) for corner in range(4)])


def duties(car: Car, side: str, speed: Array, wanted: Array) -> Array:
    """Duty at all corners that gives a force, each by its own map."""
    return np.concatenate([car.damper_map(side, corner).duty(speed[[corner]], wanted[[corner]])[0] for corner in range(4)])


@pytest.fixture
def bench(car: Car) -> Bench:
    """The car's maps at speeds that differ by corner, over the cases 0.2, 0.4 and 0.9 m/s."""
    speed = np.array([1.0, 1.1, 0.9, 1.2]).reshape(4, 1, 1) * np.array([0.2, 0.4, 0.9])
    packed = [car.damper_map(side, corner).packed for side in SIDES for corner in (0, 2)]
    places = np.cumsum([0, *(entry.size for entry in packed)])[:-1]
    return Bench((1, 3), speeds=dict.fromkeys(SIDES, speed), packed=np.concatenate(packed), places=tuple(int(place) for place in places))


def on_base(bench: Bench, base: float, act: str, *demands: Demand, share: float = 1.0, join: str = "max") -> Result:
    """Forces on a base duty."""
    beneath = Layer("set", (Demand(np.full((1, 1, 1), base), np.full((1, 1, 1), base)),))
    return bench.lay(beneath, Layer(act, demands, LayerSettings(weight=share), join=join))


@pytest.mark.parametrize("act", ["raise", "cap"])
def test_raise_and_cap_commute_with_the_map_to_the_bit(act: str, bench: Bench, car: Car) -> None:
    """Duty of the larger force = larger of the duties."""
    random = np.random.default_rng(4)
    pick = np.maximum if act == "raise" else np.minimum
    for _ in range(50):
        one, two = random.uniform(0.0, 4000.0, (2, 4, 1, 3))
        stack = bench.lay(Layer("set", (Demand(one, one, force=True),)), Layer(act, (Demand(two, two, force=True),)))
        for side in SIDES:
            expected = duties(car, side, bench.speeds[side], pick(one, two))
            np.testing.assert_array_equal(stack.side(side, stack.asked), expected)


def test_add_of_a_force_adds_newtons_to_the_force_beneath(bench: Bench, car: Car) -> None:
    for base in (0.1, 0.4, 0.7):
        extra = np.full((1, 1, 3), 120.0)
        stack = on_base(bench, base, "add", Demand(extra, -0.5 * extra, force=True))
        for side, newtons in (("compression", 120.0), ("rebound", -60.0)):
            speed = bench.speeds[side]
            before = forces(car, side, speed, np.full(speed.shape, base))
            after = forces(car, side, speed, np.ascontiguousarray(stack.side(side, stack.asked)))
            inside = (stack.side(side, stack.flags) & FLAG_CLAMP) == 0
            assert inside.any()
            # atol: map and inverse of forces of some kN; measured 5e-13 N
            np.testing.assert_allclose((after - before)[inside], newtons, rtol=0, atol=1e-11)
            assert (stack.side(side, stack.flags) & FLAG_TRIM).all()
            assert (stack.side(side, stack.decided) == 0).all()


def test_a_force_out_of_reach_is_flagged_where_the_layer_is_open(bench: Bench) -> None:
    huge = Demand(compression=np.full((1, 1, 1), 1e5), force=True)
    stack = on_base(bench, 0.3, "raise", huge)
    assert (stack.flags[:4] == FLAG_CLAMP).all()
    np.testing.assert_array_equal(stack.asked[:4], 1.0)
    assert (stack.flags[4:] == 0).all()
    assert (on_base(bench, 0.3, "raise", huge, share=0.0).flags == 0).all()


def test_wanting_less_than_the_softest_is_a_shortfall_only_where_it_softens(bench: Bench) -> None:
    nothing = Demand(compression=np.zeros((1, 1, 1)), force=True)
    assert (on_base(bench, 0.3, "raise", nothing).flags[:4] == 0).all()
    assert (on_base(bench, 0.3, "cap", nothing).flags[:4] == FLAG_CLAMP).all()


@pytest.mark.parametrize("act", ["set", "add", "raise", "cap"])
def test_a_force_that_is_not_a_number_is_never_swallowed(act: str, bench: Bench) -> None:
    demand = Demand(compression=np.full((1, 1, 1), np.nan), force=True)
    for share in (0.0, 1.0):
        assert np.isnan(on_base(bench, 0.3, act, demand, share=share).asked[:4]).all()


@pytest.mark.parametrize(("join", "compression", "rebound"), [("max", 500.0, 300.0), ("sum", 800.0, 350.0)])
def test_forces_are_joined_per_side(join: str, compression: float, rebound: float, bench: Bench, car: Car) -> None:
    a, b = np.full((4, 1, 3), 300.0), np.full((1, 1, 1), 500.0)
    demands = (Demand(a, a, force=True), Demand(b, None, force=True), Demand(None, 0.1 * b, force=True))
    stack = on_base(bench, 0.0, "set", *demands, join=join)
    for side, newtons in (("compression", compression), ("rebound", rebound)):
        expected = duties(car, side, bench.speeds[side], np.full((4, 1, 3), newtons))
        np.testing.assert_array_equal(stack.side(side, stack.asked), expected)


# ---------------------------------------------------------------------------------------------------- opening


def bits(text: str) -> Array:
    """A whole-vehicle state written as digits."""
    return np.array([float(x) for x in text]).reshape(1, -1, 1)


def opened(
    states: dict[str, Array], when: tuple[str, ...], unless: tuple[str, ...] = (), settings: LayerSettings | None = None, **more: Any
) -> Array:
    """Share of one layer over time, (4, time, case)."""
    shape = np.broadcast_shapes(*(state.shape for state in states.values()))[1:]
    bench = Bench((shape[0], shape[1]), states=states, strengths=more.pop("strengths", {}))
    one = Demand(np.ones((1, 1, 1)), np.ones((1, 1, 1)))
    stack = bench.lay(Layer("set", (one,)), Layer("set", (one,), settings or LayerSettings(), when, unless, **more), record=True)
    return stack.shares[1, :4]


def test_when_is_any_of_and_unless_none_of() -> None:
    states = {"a": bits("001100"), "b": bits("010010"), "c": bits("000110"), "d": bits("100000")}
    np.testing.assert_array_equal(opened(states, ("a", "b"))[2, :, 0], [0, 1, 1, 1, 1, 0])
    np.testing.assert_array_equal(opened(states, ("a", "b"), ("c", "d"))[2, :, 0], [0, 1, 1, 0, 0, 0])
    np.testing.assert_array_equal(opened(states, (), ("c", "d"))[2, :, 0], [0, 1, 1, 0, 0, 1])
    np.testing.assert_array_equal(opened(states, ())[2, :, 0], 1)


def test_a_vehicle_state_opens_all_corners_and_a_corner_state_its_own() -> None:
    corner = np.zeros((4, 6, 1))
    corner[1, 2:] = 1.0
    states = {"vehicle": bits("000111"), "corner": corner}
    np.testing.assert_array_equal(opened(states, ("vehicle",))[:, 4, 0], 1)
    np.testing.assert_array_equal(opened(states, ("corner",))[:, 4, 0], [0, 1, 0, 0])
    np.testing.assert_array_equal(opened(states, ("vehicle",), ("corner",))[:, 4, 0], [1, 0, 1, 1])
    np.testing.assert_array_equal(opened(states, ("corner", "vehicle"))[:, 2, 0], [0, 1, 0, 0])


def test_the_weight_ramps_linearly_to_the_gate() -> None:
    settings = LayerSettings(fade_in=0.04, fade_out=0.02, weight=0.8)
    share = opened({"a": bits("011111000")}, ("a",), settings=settings)[0, :, 0]
    np.testing.assert_allclose(share, 0.8 * np.array([0, 0.25, 0.5, 0.75, 1, 1, 0.5, 0, 0]), atol=1e-15)  # rounding


def test_weight_by_corner_and_switch_by_case() -> None:
    weight = np.array([1.0, 0.5, 0.25, 0.0]).reshape(4, 1, 1)
    settings = LayerSettings(weight=weight, enabled=np.array([1.0, 0.0]).reshape(1, 1, 2))  # type: ignore[arg-type]
    for when in ((), ("a",)):
        share = opened({"a": np.ones((1, 3, 2))}, when, settings=settings)
        np.testing.assert_array_equal(share[:, 1, 0], [1.0, 0.5, 0.25, 0.0])
        np.testing.assert_array_equal(share[:, 1, 1], 0.0)


@pytest.mark.parametrize(("follows", "expected"), [(0.0, 1.0), (1.0, 0.3), (0.5, 0.65)])
def test_the_opening_may_follow_the_strength(follows: float, expected: float) -> None:
    share = opened(
        {"a": np.ones((1, 6, 1))}, ("a",), settings=LayerSettings(follow_strength=follows), strengths={"a": np.full((1, 6, 1), 0.3)}
    )
    np.testing.assert_allclose(share, expected, rtol=1e-15)  # rounding


def test_a_chunk_of_one_tick_goes_on_with_the_fade() -> None:
    memory = np.zeros((1, STATE))
    shares = []
    for gate in "011111":
        bench = Bench(states={"a": bits(gate)})
        layer = Layer("set", (Demand(np.ones((1, 1, 1))),), LayerSettings(fade_in=0.05), when=("a",))
        shares.append(float(bench.lay(layer, record=True, memory=memory).shares[0, 0, 0, 0]))
    np.testing.assert_allclose(shares, [0, 0.2, 0.4, 0.6, 0.8, 1.0], atol=1e-15)  # rounding


# ---------------------------------------------------------------------------------------------------- roles


@pytest.mark.parametrize(
    ("corners", "outer", "speed", "expected"),
    [
        (("outer",), (0, 1, 0, 1), 9.0, (0, 1, 0, 1)),
        (("outer_front",), (0, 1, 0, 1), 9.0, (0, 1, 0, 0)),
        (("outer_front", "inner_rear"), (0, 1, 0, 1), 9.0, (0, 1, 1, 0)),
        (("inner",), (1, 0, 1, 0), 9.0, (0, 1, 0, 1)),
        (("outer",), (0, 0, 0, 0), 9.0, (0, 0, 0, 0)),
        (("leading",), (0, 0, 0, 0), 9.0, (1, 1, 0, 0)),
        (("leading",), (0, 0, 0, 0), -2.0, (0, 0, 1, 1)),
        (("trailing_left",), (0, 0, 0, 0), 9.0, (0, 0, 1, 0)),
        (("rear", "front_left"), (0, 0, 0, 0), 9.0, (1, 0, 1, 1)),
        ((), (0, 0, 0, 0), 9.0, (1, 1, 1, 1)),
    ],
)
def test_where_a_layer_with_roles_acts(corners: tuple[str, ...], outer: tuple[int, ...], speed: float, expected: tuple[int, ...]) -> None:
    outside = np.array(outer, float).reshape(4, 1, 1)
    inside = outside[[1, 0, 3, 2]]
    states = {"cornering_outer": outside, "cornering_inner": inside, "vehicle_speed": np.full((1, 1, 1), speed)}
    np.testing.assert_array_equal(opened(states, (), corners=corners)[:, 0, 0], expected)


# ---------------------------------------------------------------------------------------------------- lost channels


def lost_rows(*rows: int) -> Array:
    """Channels lost from the second of four ticks on."""
    lost = np.zeros((SIGNALS, 4, 1))
    lost[list(rows), 1:] = 1.0
    return lost


@pytest.mark.parametrize(
    ("need", "rows", "open_after"),
    [
        (THIS_CORNER, (1,), (1, 0, 1, 1)),
        (ANY, (1,), (0, 0, 0, 0)),
        (EVERY, (1,), (1, 1, 1, 1)),
        (EVERY, (0, 1, 2, 3), (0, 0, 0, 0)),
        (THIS_CORNER, (4,), (1, 1, 1, 1)),  # another channel
    ],
)
def test_a_lost_channel_closes_what_depends_on_it_and_the_layers_beneath_go_on(
    need: int, rows: tuple[int, ...], open_after: tuple[int, ...]
) -> None:
    bench = Bench((4, 1), lost=lost_rows(*rows), needs=({}, dict.fromkeys(range(4), need)))
    both = np.ones((1, 1, 1))
    stack = bench.lay(Layer("set", (Demand(0.3 * both, 0.3 * both),)), Layer("set", (Demand(0.8 * both, 0.8 * both),)))
    np.testing.assert_array_equal(stack.asked[:, 0, 0], 0.8)
    np.testing.assert_array_equal(stack.asked[:4, 2, 0], np.where(open_after, 0.8, 0.3))
    np.testing.assert_array_equal(stack.asked[4:, 2, 0], np.where(open_after, 0.8, 0.3))
    assert not stack.closed.any()
    np.testing.assert_array_equal(stack.flags[4:, 2, 0], np.where(open_after, 0, FLAG_FAULT))


def test_beneath_a_base_that_is_closed_lies_the_fallback() -> None:
    bench = Bench((4, 1), lost=lost_rows(2), needs=(dict.fromkeys(range(4), THIS_CORNER),))
    stack = bench.lay(duty("set", 1.0, 0.1))
    np.testing.assert_array_equal(stack.asked[:, 2, 0], [0.1, 0.1, 0.5, 0.1, 0.0, 0.0, 0.5, 0.0])
    np.testing.assert_array_equal(stack.closed[:, 2, 0], [0, 0, 1, 0, 0, 0, 1, 0])
    assert not stack.closed[:, 0].any()
