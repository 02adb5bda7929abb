"""Tick form: names become rows, mistakes become one line, and the compiled loop gives what the plain statements say."""

from __future__ import annotations

import importlib.util
import math
import os
import re
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any, ClassVar

import numpy as np
import pytest
from numpy.typing import NDArray

from dualduty import cells
from dualduty.blocks import derivative, hold, keep_while, leaky_integral, low_pass, schmitt_trigger, slew_limit
from dualduty.contract import Chunk, State, quantity, state
from dualduty.discovery import examine
from dualduty.each_tick import each_tick, leak, plan_of, share, ticks
from dualduty.errors import BadInput
from dualduty.lookup import Curve, Surface
from dualduty.memory import Memory
from dualduty.parameters import Axis, curve, param, surface

Array = NDArray[np.float64]
DT = 0.002
SPEED = Axis("vehicle_speed", "m/s", "km/h")
LEAN = Axis("lean", "rad", "deg")


@each_tick
@dataclass(frozen=True)
class Everything:
    """Uses every part of the form."""

    gain: float = param(2.0, "1", 0.0, 5.0, "gain")
    place: float = param(0.1, "m", 0.0, 1.0, "place", by_corner=True)
    smooth_hz: float = param(5.0, "Hz", 0.1, 50.0, "smoothing")
    line: Curve = curve(SPEED, (0.0, 10.0, 20.0), (0.1, 0.3, 0.9), "1", 0.0, 1.0, "line", by_corner=True)
    plane: Surface = surface((SPEED, LEAN), ((0.0, 10.0), (0.0, 1.0, 2.0)), ((0.0, 0.2, 0.4), (0.5, 0.6, 1.0)), "1", 0.0, 1.0, "plane")

    gives = (quantity("made", "1", "made"), quantity("looked_up", "1", "curve"), quantity("on_plane", "1", "surface", corners=1),
             state("open", "open", corners=1))  # fmt: skip
    sizes: ClassVar = {"past": 3}

    def prepared(self, dt: float) -> dict[str, Any]:
        """Worked out once."""
        return {"smooth": share(self.smooth_hz, dt), "twice": 2.0 * np.asarray(self.place)}

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """One tick."""
        smooth = cells_low_pass(memory.smooth, now.specific_force_z, self.smooth)
        memory.past[int(memory.count) % 3] = smooth
        memory.count += 1.0
        for corner in range(4):
            memory.sum[corner] += now.shaft_travel[corner] * now.dt
            out.made[corner] = self.gain * memory.sum[corner] + self.place[corner] + self.twice[corner]
            out.looked_up[corner] = self.line[corner](now.vehicle_speed)
        out.on_plane = self.plane(now.vehicle_speed, smooth / 10.0)
        out.open = trigger(memory.open, now.airborne_strength * now.airborne, 0.5, 0.4, 1.0, 0.0, 0.0)
        out.open_strength = memory.past[0] if now.specific_force_z_valid > 0.0 else -1.0


cells_low_pass = cells.low_pass  # a helper may stand below the class
trigger = cells.trigger


def inputs(count: int = 200, cases: int = 2) -> dict[str, Any]:
    """What it reads."""
    random = np.random.default_rng(3)
    active = (random.uniform(size=(1, count, cases)) > 0.3).astype(float)
    return {
        "specific_force_z": random.normal(9.0, 3.0, (1, count, cases)),
        "shaft_travel": random.uniform(0.0, 0.2, (4, count, cases)),
        "vehicle_speed": random.uniform(-2.0, 25.0, (1, count, cases)),
        "airborne": State(active, random.uniform(size=active.shape)),
    }


def _cut(value: Any, ticks: slice) -> Any:
    if not isinstance(value, State):
        return value[:, ticks]
    return State(value.active[:, ticks], None if value.strength is None else value.strength[:, ticks])


def run(plug_in: Any, given: dict[str, Any], cuts: tuple[int, ...] = ()) -> Any:
    """Outputs over the chunks between cuts, joined as a dict of arrays by name."""
    memory = Memory(DT)
    count = given["specific_force_z"].shape[1]
    parts = []
    for a, b in zip((0, *cuts), (*cuts, count), strict=True):
        part = {name: _cut(value, slice(a, b)) for name, value in given.items()}
        memory.begin()
        result = plug_in.run(Chunk(DT, part), memory)
        memory.end()
        parts.append({k: np.concatenate([v.active, v.strength]) if isinstance(v, State) else v for k, v in result.items()})
    return {name: np.concatenate([part[name] for part in parts], axis=1) for name in parts[0]}


def test_what_is_read_and_written_is_found_from_the_source() -> None:
    plan = plan_of(Everything)
    assert plan is not None
    assert plan.reads == {
        "specific_force_z": 1, "shaft_travel": 4, "vehicle_speed": 1, "airborne_strength": 1, "airborne": 1, "specific_force_z_valid": 1,
    }  # fmt: skip
    assert plan.outs == {"made": 4, "looked_up": 4, "on_plane": 1, "open": 1, "open_strength": 1}
    assert plan.states == 2 + 3 + 1 + 4 + 3  # the filter, the buffer, the count, the sums, the trigger


def test_the_loop_gives_what_the_statements_say() -> None:
    given = inputs()
    places = np.array([0.1, 0.2, 0.3, 0.4]).reshape(4, 1, 1)
    gains = np.array([1.5, 3.0]).reshape(1, 1, 2)
    made = run(Everything(gain=gains, place=places), given)  # type: ignore[arg-type]
    travelled = np.cumsum(given["shaft_travel"] * DT, axis=1)
    # rtol: the same sums in another order
    np.testing.assert_allclose(made["made"], gains * travelled + 3.0 * places, rtol=1e-12)
    plug_in = Everything()
    for corner in range(4):
        np.testing.assert_array_equal(made["looked_up"][corner], plug_in.line(given["vehicle_speed"])[0])
    memory = Memory(DT)
    memory.begin()
    smooth = low_pass(given["specific_force_z"], 5.0, memory("smooth"))
    level = given["airborne"].active * given["airborne"].strength
    opened = schmitt_trigger(level, 0.5, 0.4, memory("open"), on_delay=DT)
    np.testing.assert_allclose(made["on_plane"], plug_in.plane(given["vehicle_speed"], smooth / 10.0), rtol=1e-12)
    np.testing.assert_array_equal(made["open"][:1], opened)
    latest = np.repeat(smooth[:, ::3], 3, axis=1)[:, : smooth.shape[1]]  # every third value stands in the first place
    np.testing.assert_array_equal(made["open"][1:], latest)


def test_any_cut_gives_the_same_bits() -> None:
    given = inputs()
    whole, cut = run(Everything(), given), run(Everything(), given, (1, 2, 50, 137))
    for name, values in whole.items():
        np.testing.assert_array_equal(cut[name], values)


def test_curves_of_cases_with_other_breakpoints_are_packed_by_case() -> None:
    line = Curve(np.array([[[0.0, 0.0]], [[10.0, 5.0]]]), np.array([[[0.0, 0.2]], [[1.0, 0.6]]]))
    made = run(Everything(line=line), inputs())
    speed = inputs()["vehicle_speed"]
    np.testing.assert_allclose(made["looked_up"][2, :, 0], np.interp(speed[0, :, 0], [0, 10], [0, 1]), rtol=1e-12)
    np.testing.assert_allclose(made["looked_up"][2, :, 1], np.interp(speed[0, :, 1], [0, 5], [0.2, 0.6]), rtol=1e-12)


@pytest.mark.parametrize("returns", ["Duty", "Force"])
def test_a_law_gives_duty_or_force_and_leaves_alone_what_it_never_mentions(returns: str) -> None:
    @each_tick
    @dataclass(frozen=True)
    class Law:
        """Rebound only."""

        gain: float = param(0.1, "1", 0.0, 1.0, "gain")

        def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
            """One tick."""
            for corner in range(4):
                if now.specific_force_z > 9.0:
                    out.rebound[corner] = self.gain * math.sqrt(now.specific_force_z)

    Law.returns = returns  # type: ignore[attr-defined]
    given = inputs(count=6, cases=1)
    memory = Memory(DT)
    memory.begin()
    result: Any = Law().run(Chunk(DT, given), memory)  # type: ignore[attr-defined]
    assert type(result).__name__ == returns
    assert result.compression is None
    felt = given["specific_force_z"]
    wanted = np.where(felt > 9.0, 0.1 * np.sqrt(np.maximum(felt, 0.0)), 0.0)  # what is not assigned is 0, tick by tick
    np.testing.assert_allclose(result.rebound, np.repeat(wanted, 4, axis=0), rtol=1e-15)


CELLS: dict[str, tuple[Any, Any]] = {
    "low_pass": (lambda x, m: low_pass(x, 3.0, m), lambda s, x: cells.low_pass(s, 0, x, share(3.0, DT))),
    "derivative": (lambda x, m: derivative(x, 30.0, m), lambda s, x: cells.derivative(s, 0, x, share(30.0, DT), DT)),
    "leaky_integral": (lambda x, m: leaky_integral(x, 0.4, m), lambda s, x: cells.leaky_integral(s, 0, x, *map(float, leak(0.4, DT)))),
    "hold": (lambda x, m: hold(x, 0.01, m), lambda s, x: cells.hold(s, 0, x, float(ticks(0.01, DT)))),
    "slew": (lambda x, m: slew_limit(x, 9.0, 4.0, m), lambda s, x: cells.slew(s, 0, x, 9.0 * DT, 4.0 * DT)),
    "keep_while": (lambda x, m: keep_while(x, x, m), lambda s, x: cells.keep_while(s, 0, x, x)),
    "trigger": (
        lambda x, m: schmitt_trigger(x, 0.4, -0.1, m, on_delay=0.004, off_delay=0.006, dwell=0.02),
        lambda s, x: cells.trigger(s, 0, x, 0.4, -0.1, 2.0, 3.0, 10.0),
    ),
}


@pytest.mark.parametrize("name", CELLS)
def test_a_cell_is_its_block(name: str) -> None:
    block, cell = CELLS[name]
    wave = np.sin(np.arange(300) * 0.07) + 0.3 * np.sin(np.arange(300) * 0.9)
    memory = Memory(DT)
    memory.begin()
    expected = block(wave.reshape(1, -1, 1), memory("block"))[0, :, 0]
    rows = np.zeros(3)
    np.testing.assert_array_equal([cell(rows, float(x)) for x in wave], expected)


def test_what_is_left_of_mean_square_and_peak() -> None:
    rows = np.zeros(2)
    assert [cells.running_mean_square(rows, 0, x, 0.5) for x in (2.0, 2.0, 4.0)] == [4.0, 4.0, 10.0]
    rows = np.zeros(2)
    assert [cells.peak_hold(rows, 0, x, 0.5) for x in (2.0, 1.0, 1.8, 0.0)] == [2.0, 1.5, 1.8, pytest.approx(1.3)]


def test_a_value_that_comes_from_elsewhere_does_not_jump() -> None:
    rows = np.zeros(3)
    told = [cells.bumpless(rows, 0, value, source, 0.5) for value, source in ((1.0, 0.0), (1.0, 0.0), (3.0, 1.0), (3.0, 1.0), (3.0, 0.0))]
    assert told == [1.0, 1.0, 2.0, 2.5, 2.75]  # of the 2 that it would jump by, half is left after each tick


def refused(body: str, *, head: str = "") -> str:
    """What a plug-in with this tick is refused with."""
    return (
        "from dataclasses import dataclass\nfrom typing import Any\n"
        "from dualduty.cells import low_pass\nfrom dualduty.contract import quantity\n"
        "from dualduty.each_tick import each_tick\nfrom dualduty.parameters import param\n"
        "@each_tick\n@dataclass(frozen=True)\nclass Wrong:\n"
        '    """Wrong."""\n    gain: float = param(1.0, "1", 0.0, 2.0, "gain", by_corner=True)\n'
        f'    gives = (quantity("odd", "1", "odd", corners=1),)\n{head}'
        f"    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:\n        {body}\n"
    )


@pytest.mark.parametrize(
    ("body", "problem"),
    [
        ("out.odd = now.specific_force", "reads 'specific_force', which no signal or plug-in gives; did you mean 'specific_force_"),
        ("out.odd = now.shaft_travel", "reads 'shaft_travel' without a corner; expected now.shaft_travel[corner]"),
        ("out.odd = now.yaw_rate[0]", "reads 'yaw_rate' by corner; expected now.yaw_rate, one value of the whole vehicle"),
        ("out.odd = now.wheel_load[0]", "reads 'wheel_load', which is instrumentation only"),
        ("out.odd = self.gain", "self.gain may differ by corner: self.gain[corner]"),
        ("memory.last = now.brake", "Wrong.tick never writes out.odd"),
        ("out.odd = 1.0; out.other = 2.0", "out.other is written with 1, declared with nothing that it gives"),
        ("out.odd = low_pass(now.brake, memory.a, 0.1)", "line 14: low_pass takes a name of the memory first"),
        ("out.odd = low_pass(memory.a, now.brake, 0.1) + low_pass(memory.a, now.brake, 0.1)", "memory.a is used twice"),
        ("out.odd = memory.a + memory.a[1]", "memory.a is used both with a corner and without"),
        ("now.brake = 1.0", "line 14: now.brake can't be assigned"),
        ("out.odd = self.gain(now.brake)", "self.gain is no curve of 1 axis"),
        ("n = now; out.odd = n.brake", "line 14: now stands alone; expected now.some_name"),
        ("out.odd = now.brake; raise ValueError", "line 14: a tick has no raise"),
        ("out.odd = now.shaft_travel[4]", "line 14: now.shaft_travel has 4 places, 0 to 3, came [4]"),
        ("out.odd = now.shaft_travel[-1]", "line 14: now.shaft_travel has 4 places, 0 to 3, came [-1]"),
    ],
)
def test_a_mistake_in_a_tick_is_one_line_with_its_place(body: str, problem: str, tmp_path: Path) -> None:
    assert problem in said_of(refused(body), tmp_path / "wrong.py")


@pytest.mark.parametrize("definition", ["async def tick(self, now, memory, out)", "def tick(self, now, memory)"])
def test_another_head_than_that_of_a_tick_is_refused(definition: str, tmp_path: Path) -> None:
    text = re.sub(r"def tick\(.*\) -> None", definition, refused("out.odd = 1.0"))
    assert "line 13: expected def tick(self, now, memory, out)" in said_of(text, tmp_path / "wrong.py")


@pytest.mark.skipif(bool(os.environ.get("NUMBA_DISABLE_JIT")), reason="nothing is compiled")
@pytest.mark.parametrize(
    ("body", "problem"),
    [
        ('out.odd = "a" + now.brake', "line 14: tick can't be compiled: no such operation on these: add(str a, float64)"),
        ("rates = []; out.odd = 1.0", "line 14: tick can't be compiled: Cannot infer the type of variable 'rates'"),
        ("out.odd = helper(1.0)", "<class 'function'>; a helper is decorated with inline from dualduty.kernels"),
        ("out.odd = nowhere", "tick can't be compiled: NameError: name 'nowhere' is not defined; expected a name of this file"),
        ("out.odd = math.nowhere(1.0)", "tick can't be compiled: module 'math' has no attribute 'nowhere'"),
    ],
)  # fmt: skip
def test_what_can_not_be_compiled_is_one_line_with_its_place(body: str, problem: str, tmp_path: Path) -> None:
    said = said_of(f"{refused(body)}import math\ndef helper(value):\n    return value\n", tmp_path / "wrong.py")
    assert problem in said
    assert len(said) < len(str(tmp_path)) + 300


def found_and_compiled(plug_in: Any) -> None:
    examine([plug_in])
    _ = plug_in.plan.loop


def said_of(text: str, path: Path) -> str:
    """What a file with a class `Wrong` is refused with, found or compiled: one line that begins with file and class."""
    path.write_text(text, encoding="utf-8")
    spec = importlib.util.spec_from_file_location("wrong_plug_in", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["wrong_plug_in"] = module
    spec.loader.exec_module(module)
    with pytest.raises(BadInput) as caught:
        found_and_compiled(module.Wrong)
    assert str(caught.value).startswith(f"{path}: Wrong: ")
    assert "\n" not in str(caught.value)
    return str(caught.value)
