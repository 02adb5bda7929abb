"""The whole strategy: the same bits in any cut, resumed, alone or among cases; plain words for a plug-in that misbehaves."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Sequence
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from dualduty.calibration.model import Calibration
from dualduty.calibration.read import read_calibration
from dualduty.contract import Chunk, Duty, Memory, State, quantity, state
from dualduty.controller import ControllerOutput, PackedOutput
from dualduty.discovery import PlugIns, discover, examine
from dualduty.errors import BadInput
from dualduty.signals import CONTROLLER_LAYOUT, SIDES
from dualduty.trace import FLAG_FAULT, FLAG_TRIM
from strategies.controller import Strategy
from strategies.strategy_memory import StrategyMemory

Array = NDArray[np.float64]
DT = 0.002
PATROL, DASH, HAUL = 0, 1, 2
VEHICLE = (Path(__file__).parents[2] / "calibrations" / "vehicles" / "marram.toml").as_posix()
STRATEGIES = Path(__file__).parents[2] / "calibrations" / "strategies"
HEAD = f'vehicle = "{VEHICLE}"\nmodes = ["patrol", "dash", "haul"]\n'
BASE = '[[layers]]\nname = "base"\nlaw = "FixedDuty"\n[layers.FixedDuty]\ncompression_pct = 30\nrebound_pct = 40\n'
QUICK = "[supervisor]\nrise_pct_s = 100000\nfall_pct_s = 100000\nresolution_pct = 0.01\n"


GROUND = ("corrugation", "whoops", "rough_ground", "smooth_ground", "standstill")  # take longer to tell than the made-up drive lasts


@pytest.fixture(scope="module")
def plug_ins() -> PlugIns:
    """Everything found."""
    return discover()


@pytest.fixture(scope="module")
def demo(plug_ins: PlugIns) -> Calibration:
    """The demo's baseline: every layer, every detector."""
    return read_calibration(STRATEGIES / "marram_baseline.toml", plug_ins)


@pytest.fixture
def calibration(tmp_path: Path, plug_ins: PlugIns) -> Callable[..., Calibration]:
    """`calibration(text, known=plug_ins)`: read from text."""

    def made(text: str, known: PlugIns = plug_ins, name: str = "made.toml") -> Calibration:
        path = tmp_path / name
        path.write_text(HEAD + text, encoding="utf-8")
        return read_calibration(path, known)

    return made


def drive(ticks: int, cases: int = 1, seed: int = 3) -> Array:
    """A made-up drive that opens every state: left and right turns, braking, flight and landing, and gaps in the signals."""
    random = np.random.default_rng(seed)
    time = (np.arange(ticks) * DT).reshape(1, -1, 1)
    sensed = np.repeat(np.repeat(CONTROLLER_LAYOUT.per_row("rest").reshape(-1, 1, 1), ticks, axis=1), cases, axis=2)
    phase = random.uniform(0.0, 0.6, (1, 1, cases))
    rows = CONTROLLER_LAYOUT.rows
    sensed[rows["wheel_speed"]] = 14.0 + np.sin(3.0 * time + phase)
    sensed[rows["yaw_rate"]] = 0.8 * np.sin(2 * np.pi * 0.6 * time + phase)
    sensed[rows["steer_angle"]] = 0.15 * np.sin(2 * np.pi * 0.6 * time + phase + 0.2)
    sensed[rows["roll_rate"]] = 0.5 * np.sin(2 * np.pi * 0.9 * time + phase)
    sensed[rows["pitch_rate"]] = 0.4 * np.sin(2 * np.pi * 1.3 * time + phase)
    sensed[rows["specific_force_x"]] = -4.0 * (np.sin(2 * np.pi * 0.7 * time + phase) > 0.3)
    sensed[rows["brake"]] = 0.6 * np.clip(2.0 * np.sin(2 * np.pi * 0.9 * time + 1.0 + phase) - 0.4, 0.0, 1.0)
    sensed[rows["throttle"]] = np.clip(2.0 * np.sin(2 * np.pi * 0.9 * time - 2.0 + phase) - 0.4, 0.0, 1.0)
    flight = np.sin(2 * np.pi * 0.8 * time + 2.0 * phase) > 0.75
    landing = np.roll(flight, 60, axis=1) & ~flight
    sensed[rows["specific_force_x"]] *= ~flight
    sensed[rows["specific_force_z"]] = np.where(flight, 0.3, np.where(landing, 22.0, 9.8) + 2.0 * np.sin(11.0 * time + phase))
    corner = np.arange(4).reshape(4, 1, 1)
    travel = 0.13 + 0.06 * np.sin(2 * np.pi * 1.7 * time + corner + phase)
    out = np.clip((np.sin(2 * np.pi * 0.8 * time + 2.0 * phase) - 0.55) / 0.3, 0.0, 1.0)  # shafts come out on the way up
    sensed[rows["shaft_travel"]] = travel + out * (0.01 - travel)
    sensed += 1e-4 * random.normal(size=sensed.shape)
    sensed[rows["shaft_travel"].start + 2, ticks // 2 : ticks // 2 + 60] = np.nan
    return np.ascontiguousarray(sensed)


def modes(*changes: tuple[int, Sequence[int]], ticks: int) -> NDArray[np.int16]:
    """Drive mode of each case from each of the named ticks on."""
    mode = np.zeros((1, ticks, len(changes[0][1])), np.int16)
    for start, row in changes:
        mode[0, start:] = row
    return mode


def arrays(output: ControllerOutput | PackedOutput) -> dict[str, NDArray[Any]]:
    """Everything a controller said, flat."""
    return {
        f"{field.name} {name}": array
        for field in dataclasses.fields(ControllerOutput)
        for name, array in getattr(output, field.name).items()
    }  # fmt: skip


def run(
    strategy: Strategy, sensed: Array, mode: NDArray[np.int16], cuts: Sequence[int] = (), memory: StrategyMemory | None = None
) -> dict[str, NDArray[Any]]:
    """The strategy over the chunks between `cuts`, joined."""
    tree = memory or strategy.start()
    parts = [
        arrays(strategy.run(np.ascontiguousarray(sensed[:, a:b]), np.ascontiguousarray(mode[:, a:b]), tree))
        for a, b in pairwise(cuts or (0, sensed.shape[1]))
    ]
    return {name: np.concatenate([part[name] for part in parts], axis=1) for name in parts[0]}


def same(one: dict[str, NDArray[Any]], other: dict[str, NDArray[Any]]) -> None:
    """Equal to the bit."""
    assert one.keys() == other.keys()
    for name, array in one.items():
        np.testing.assert_array_equal(array, other[name], err_msg=name)
        assert array.dtype == other[name].dtype


TICKS = 900


@pytest.fixture(scope="module")
def strategy(demo: Calibration, plug_ins: PlugIns) -> Strategy:
    """The baseline in three cases."""
    return Strategy([demo], [0, 0, 0], plug_ins, DT)


@pytest.fixture(scope="module")
def sensed() -> Array:
    """Three cases of the made-up drive."""
    return drive(TICKS, 3)


@pytest.fixture(scope="module")
def mode() -> NDArray[np.int16]:
    """Cases change drive mode at different ticks."""
    rows = (0, [PATROL, DASH, HAUL]), (301, [DASH, DASH, HAUL]), (302, [DASH, PATROL, HAUL]), (700, [HAUL, DASH, PATROL])
    return modes(*rows, ticks=TICKS)


@pytest.fixture(scope="module")
def whole(strategy: Strategy, sensed: Array, mode: NDArray[np.int16]) -> dict[str, NDArray[Any]]:
    """The whole drive at once."""
    return run(strategy, sensed, mode)


def test_the_drive_opens_every_state_and_lets_every_layer_decide(whole: dict[str, NDArray[Any]], strategy: Strategy) -> None:
    """Else the tests below would compare nothing."""
    for name in strategy.states:
        assert name in GROUND or 0.0 < whole[f"states {name}"].mean() < 1.0, name
    decided = {strategy.layers[index] for side in SIDES for index in np.unique(whole[f"layer {side}"])}
    assert decided == {plan.name for plan in strategy.plans if plan.act != "add"}
    flags = np.bitwise_or.reduce(np.ravel(whole["flags compression"]))
    assert flags & FLAG_FAULT


def test_whole_is_odd_chunks(strategy: Strategy, sensed: Array, mode: NDArray[np.int16], whole: dict[str, NDArray[Any]]) -> None:
    same(run(strategy, sensed, mode, (0, 1, 2, 77, 300, 301, 302, 303, 513, 700, TICKS)), whole)


def test_whole_is_single_ticks(strategy: Strategy, sensed: Array, mode: NDArray[np.int16], whole: dict[str, NDArray[Any]]) -> None:
    same(run(strategy, sensed, mode, range(TICKS + 1)), whole)


def test_saved_and_resumed_is_unbroken(strategy: Strategy, sensed: Array, mode: NDArray[np.int16], whole: dict[str, NDArray[Any]]) -> None:
    first = strategy.start()
    head = run(strategy, sensed[:, :500], mode[:, :500], memory=first)
    snapshot = first.snapshot()
    run(strategy, sensed[:, 500:], mode[:, 500:], memory=first)  # the snapshot must not notice
    second = strategy.start()
    second.restore(snapshot)
    tail = run(strategy, sensed[:, 500:], mode[:, 500:], memory=second)
    same({name: np.concatenate([head[name], tail[name]], axis=1) for name in head}, whole)


def test_another_strategy_takes_up_a_memory(demo: Calibration, plug_ins: PlugIns, sensed: Array, mode: NDArray[np.int16]) -> None:
    one, other = (Strategy([demo], [0, 0, 0], plug_ins, DT) for _ in range(2))
    memory, resumed = one.start(), other.start()
    run(one, sensed[:, :500], mode[:, :500], memory=memory)
    resumed.restore(memory.snapshot())
    same(run(other, sensed[:, 500:], mode[:, 500:], memory=resumed), run(one, sensed[:, 500:], mode[:, 500:], memory=memory))


def test_inputs_are_not_written_to(strategy: Strategy, sensed: Array, mode: NDArray[np.int16]) -> None:
    kept = sensed.copy(), mode.copy()
    run(strategy, sensed, mode)
    np.testing.assert_array_equal(sensed, kept[0])
    np.testing.assert_array_equal(mode, kept[1])


def test_cases_with_other_candidates_and_modes_are_alone_to_the_bit(
    demo: Calibration, plug_ins: PlugIns, sensed: Array, mode: NDArray[np.int16]
) -> None:
    candidates = [demo, *(read_calibration(STRATEGIES / f"{name}.toml", plug_ins) for name in ("berm_support", "firm_landing"))]
    every = run(Strategy(candidates, [1, 0, 2], plug_ins, DT), sensed, mode)
    for case, candidate in enumerate((1, 0, 2)):
        alone = Strategy([candidates[candidate]], [0], plug_ins, DT)
        made = run(alone, np.ascontiguousarray(sensed[:, :, case : case + 1]), np.ascontiguousarray(mode[:, :, case : case + 1]))
        same(made, {name: array[:, :, case : case + 1] for name, array in every.items()})


def test_a_mode_index_that_does_not_exist_is_one_line(strategy: Strategy, sensed: Array) -> None:
    for index in (-1, 3):
        with pytest.raises(BadInput, match=f"drive mode: expected an index of patrol, dash, haul, got {index}"):
            run(strategy, sensed, modes((0, [PATROL, index, PATROL]), ticks=TICKS))


def test_candidates_of_another_structure_are_refused(demo: Calibration, plug_ins: PlugIns, calibration: Callable[..., Calibration]) -> None:
    with pytest.raises(BadInput, match=r"made.toml: has other layers or suppliers than .*marram_baseline.toml"):
        Strategy([demo, calibration(BASE)], [0, 1], plug_ins, DT)


def test_candidates_with_other_damper_maps_are_refused(demo: Calibration, plug_ins: PlugIns) -> None:
    """Forces are mapped with the maps of the first: a candidate whose maps differ would get a stranger's duty."""
    firmer = dataclasses.replace(demo.car.rear_rebound, forces=1.1 * demo.car.rear_rebound.forces)
    car = dataclasses.replace(demo.car, rear_rebound=firmer)
    with pytest.raises(BadInput, match=r"has other damper maps than .*marram_baseline.toml; such candidates need a batch of their own"):
        Strategy([demo, dataclasses.replace(demo, car=car)], [0, 1], plug_ins, DT)


# ------------------------------------------------------------------------------------------- what the trade asks for


def steady(ticks: int = 40, **values: float) -> Array:
    """Signals at rest but for those named."""
    made = np.repeat(CONTROLLER_LAYOUT.per_row("rest").reshape(-1, 1, 1), ticks, axis=1)
    for name, value in values.items():
        made[CONTROLLER_LAYOUT.rows[name]] = value
    return np.ascontiguousarray(made)


def test_eighty_and_twenty_here_and_the_opposite_there(calibration: Callable[..., Calibration], plug_ins: PlugIns) -> None:
    """Compression and rebound of every damper are commanded separately."""
    made = calibration(
        QUICK
        + '[[layers]]\nname = "base"\nlaw = "FixedDuty"\n[layers.FixedDuty]\n'
        + "compression_pct = { front_left = 80, front_right = 20, rear_left = 35, rear_right = 65 }\n"
        + "rebound_pct = { front_left = 20, front_right = 80, rear_left = 100, rear_right = 0 }\n"
    )
    output = Strategy([made], [0], plug_ins, DT).run(steady(), np.zeros((1, 40, 1), np.int16), StrategyMemory(DT))
    # atol: rounding to steps of 0.01 %, 1e-16
    np.testing.assert_allclose(output.duty["compression"][:, 20, 0], [0.8, 0.2, 0.35, 0.65], rtol=0, atol=1e-15)
    np.testing.assert_allclose(output.duty["rebound"][:, 20, 0], [0.2, 0.8, 1.0, 0.0], rtol=0, atol=1e-15)


def test_a_trim_takes_rebound_out_of_what_lies_beneath(calibration: Callable[..., Calibration], plug_ins: PlugIns) -> None:
    trim = '[[layers]]\nname = "less rebound"\nlaw = "Trim"\nact = "add"\n[layers.Trim]\nrebound_pct = { front = -15, rear = -60 }\n'
    strategy = Strategy([calibration(QUICK + BASE + trim)], [0], plug_ins, DT)
    output = strategy.run(steady(), np.zeros((1, 40, 1), np.int16), strategy.start())
    np.testing.assert_allclose(output.duty["rebound"][:, 9, 0], [0.25, 0.25, 0.0, 0.0], atol=1e-15)  # 40 % less 60 % is held at 0
    np.testing.assert_array_equal(output.flags["rebound"][:, 9, 0], FLAG_TRIM)  # no limit was hit
    np.testing.assert_array_equal(output.layer["rebound"], 0)  # the base decided; the trim only trims
    np.testing.assert_allclose(output.duty["compression"], 0.3, rtol=1e-15)


def test_in_a_left_turn_the_right_side_is_held_in_compression_and_the_left_in_rebound(
    calibration: Callable[..., Calibration], plug_ins: PlugIns
) -> None:
    made = calibration(
        QUICK + BASE + '[[layers]]\nname = "support"\nlaw = "RollHold"\nact = "raise"\nwhen = ["cornering"]\n'
        "[layers.RollHold]\nouter_compression_pct = 70\ninner_rebound_pct = 60\n"
    )
    left = steady(800, wheel_speed=12.0, yaw_rate=0.5)
    output = Strategy([made], [0], plug_ins, DT).run(left, np.zeros((1, 800, 1), np.int16), StrategyMemory(DT))
    np.testing.assert_allclose(output.duty["compression"][:, -1, 0], [0.3, 0.7, 0.3, 0.7], atol=1e-12)  # rounding
    np.testing.assert_allclose(output.duty["rebound"][:, -1, 0], [0.6, 0.4, 0.6, 0.4], atol=1e-12)
    np.testing.assert_array_equal(output.layer["compression"][:, -1, 0], [0, 1, 0, 1])
    np.testing.assert_array_equal(output.layer["rebound"][:, -1, 0], [1, 0, 1, 0])


def test_a_demand_does_not_collapse_with_its_own_gate(calibration: Callable[..., Calibration], plug_ins: PlugIns) -> None:
    """While the layer fades out after the turn, the outer side is still asked for what it was, so the duty falls in a straight line."""
    made = calibration(
        QUICK + BASE + '[[layers]]\nname = "support"\nlaw = "RollHold"\nact = "raise"\nwhen = ["cornering"]\nfade_out_ms = 400\n'
        "[layers.RollHold]\nouter_compression_pct = 70\nrate_gain_s_rad = 0\n"
    )
    turn = steady(2400, wheel_speed=12.0)
    turn[CONTROLLER_LAYOUT.rows["yaw_rate"], :800] = 0.5
    output = Strategy([made], [0], plug_ins, DT).run(turn, np.zeros((1, 2400, 1), np.int16), StrategyMemory(DT))
    closing = 800 + int(np.flatnonzero(output.states["cornering"][0, 800:, 0] == 0.0)[0])
    fading = output.asked["compression"][1, closing : closing + 200, 0]
    np.testing.assert_allclose(fading, 0.3 + 0.4 * (1.0 - np.arange(1, 201) / 200), rtol=0, atol=1e-12)  # rounding of 200 sums


def test_the_fallback_stands_until_a_base_that_fades_in_is_back(calibration: Callable[..., Calibration], plug_ins: PlugIns) -> None:
    """From base to fallback and back in straight lines: never down to soft because a channel came back."""
    base = '[[layers]]\nname = "base"\nlaw = "ModeCurves"\nfade_in_ms = 400\nfade_out_ms = 400\n'
    made = calibration(QUICK + base + "[layers.ModeCurves.compression]\nvehicle_speed_km_h = [0, 90]\npct = [30, 30]\n")
    driven = steady(2000, wheel_speed=12.0)
    driven[CONTROLLER_LAYOUT.rows["wheel_speed"], 300:800] = np.nan
    output = Strategy([made], [0], plug_ins, DT).run(driven, np.zeros((1, 2000, 1), np.int16), StrategyMemory(DT))
    asked, flags = output.asked["compression"][0, :, 0], output.flags["compression"][0, :, 0] & FLAG_FAULT
    np.testing.assert_allclose(asked[[0, 700, 1999]], [0.3, 0.5, 0.3], rtol=0, atol=1e-12)  # rounding
    assert np.abs(np.diff(asked)).max() < 0.2 / 200 + 1e-12  # the difference of both, in 200 ticks
    assert np.flatnonzero(np.diff(flags.astype(int))).size == 2  # flagged once, until it is back
    assert not flags[1999]


def test_the_end_stop_goes_on_without_pedals(calibration: Callable[..., Calibration], plug_ins: PlugIns) -> None:
    """What spring force is counted from is learnt with their help; what was learnt stays when they are lost."""
    made = calibration(BASE + '[[layers]]\nname = "stop"\nlaw = "EndStop"\nact = "raise"\n')
    assert set(Strategy([made], [0], plug_ins, DT).needs[1]) == {"shaft_travel", "wheel_speed"}


@pytest.mark.parametrize(("gain", "mode_change"), [(0.4, 11), (0.4, 250)])
def test_a_change_of_drive_mode_takes_effect_at_its_tick(
    gain: float, mode_change: int, calibration: Callable[..., Calibration], plug_ins: PlugIns
) -> None:
    made = calibration(QUICK + BASE.replace("compression_pct = 30", f"compression_pct = {{ patrol = 30, dash = {100 * gain} }}"))
    output = Strategy([made], [0], plug_ins, DT).run(
        steady(500), modes((0, [PATROL]), (mode_change, [DASH]), ticks=500), StrategyMemory(DT)
    )  # fmt: skip
    asked = output.asked["compression"][3, :, 0]
    np.testing.assert_array_equal(asked, np.where(np.arange(500) < mode_change, 30 * 0.01, 100 * gain * 0.01))


# ------------------------------------------------------------------------------------------- plug-ins that misbehave


class _Law:
    """Behaves at rest; misbehaves, as `run` says, once the body is pressed down."""

    def run(self, now: Chunk, memory: Memory) -> Any:
        wanted = 0.02 * np.abs(now.specific_force_z)
        return self.lively(now, wanted) if now.specific_force_z.max() > 12.0 else Duty(wanted, wanted)

    def lively(self, now: Chunk, wanted: Array) -> Any:
        raise NotImplementedError


class _Raises(_Law):
    def lively(self, now: Chunk, wanted: Array) -> Any:
        raise ValueError("no such\nrow")


class _Writes(_Law):
    def lively(self, now: Chunk, wanted: Array) -> Any:
        now.specific_force_z *= 2.0
        return Duty(wanted)


class _WritesQuantity(_Law):
    def lively(self, now: Chunk, wanted: Array) -> Any:
        speed = now.shaft_speed
        speed += 1.0
        return Duty(wanted)

    def run(self, now: Chunk, memory: Memory) -> Any:
        assert now.shaft_speed is not None
        return super().run(now, memory)


class _Type(_Law):
    def lively(self, now: Chunk, wanted: Array) -> Any:
        return wanted


class _Shape(_Law):
    def lively(self, now: Chunk, wanted: Array) -> Any:
        return Duty(wanted[0])


class _ThreeCorners(_Law):
    def lively(self, now: Chunk, wanted: Array) -> Any:
        return Duty(wanted, np.concatenate([wanted] * 3))


class _Single(_Law):
    def lively(self, now: Chunk, wanted: Array) -> Any:
        return Duty(wanted.astype(np.float32))


class _NotANumber(_Law):
    def lively(self, now: Chunk, wanted: Array) -> Any:
        wanted[0, -1] = np.nan
        return Duty(np.zeros_like(wanted), wanted)


class _LeavesOut(_Law):
    def lively(self, now: Chunk, wanted: Array) -> Any:
        return Duty(rebound=wanted)


class _OpensMore(_Law):
    def run(self, now: Chunk, memory: Memory) -> Any:
        if now.specific_force_z.max() > 12.0:
            memory("more")
        return Duty(0.02 * np.abs(now.specific_force_z))


LAWS = [
    (_Raises, "run raised ValueError at line ", ": no such row"),
    (_Writes, "run raised ValueError at line ", "read-only"),
    (_WritesQuantity, "run raised ValueError at line ", "read-only"),
    (_Type, "run returned ndarray; a law returns Duty or Force", ""),
    (_Shape, "compression has shape (1, 1); expected (1 or 4, 1, 1) = (corner, time, case)", ""),
    (_ThreeCorners, "rebound has shape (3, 1, 1); expected (1 or 4, 1, 1)", ""),
    (_Single, "compression is an array of float32; expected float64", ""),
    (_NotANumber, "rebound duty is not a number (corner 0, tick 0 of the chunk, case 0)", ""),
    (_LeavesOut, "leaves out the compression side here; at rest, it asked for compression and rebound", ""),
    (_OpensMore, "memory 'more' was not opened in the first call", ""),
]


def _pressed(made: Calibration, known: PlugIns) -> str:
    """One line of the refusal when, after some ticks at rest, the body is pressed down."""
    strategy = Strategy([made], [0], known, DT)
    memory = strategy.start()
    mode = np.zeros((1, 1, 1), np.int16)
    for tick in range(3):
        strategy.run(steady(1, specific_force_z=9.8 + 0.01 * tick), mode, memory)
    with pytest.raises(BadInput) as caught:
        strategy.run(steady(1, specific_force_z=25.0), mode, memory)
    assert "\n" not in str(caught.value)
    return str(caught.value)


def _with(plug_ins: PlugIns, cls: type) -> PlugIns:
    made = cls if dataclasses.is_dataclass(cls) else dataclasses.dataclass(frozen=True)(cls)
    return examine([*(found.cls for found in plug_ins.by_name.values()), made])


@pytest.mark.parametrize(("law", "said", "also"), LAWS, ids=[law.__name__[1:] for law, *_ in LAWS])
@pytest.mark.parametrize("act", ["set", "raise"])
def test_a_law_that_misbehaves_is_named_in_one_line(
    law: type, said: str, also: str, act: str, plug_ins: PlugIns, calibration: Callable[..., Calibration]
) -> None:  # fmt: skip
    known = _with(plug_ins, law)
    layer = f'[[layers]]\nname = "odd"\nlaw = "{law.__name__}"\nact = "{act}"\n'
    line = _pressed(calibration(BASE + layer, known), known)
    assert f"test_controller.py: {law.__name__}: {said}" in line
    assert also in line


class _Estimator:
    gives = (quantity("odd_speed", "m/s", "made up", corners=1), state("odd", "made up"))

    def run(self, now: Chunk, memory: Memory) -> Any:
        speed = now.specific_force_z * 1.0
        active = (speed > 12.0).astype(float)
        return self.lively(speed, active) if speed.max() > 12.0 else {"odd_speed": speed, "odd": State(active)}

    def lively(self, speed: Array, active: Array) -> Any:
        raise NotImplementedError


class _Missing(_Estimator):
    def lively(self, speed: Array, active: Array) -> Any:
        return {"odd_speed": speed}


class _List(_Estimator):
    def lively(self, speed: Array, active: Array) -> Any:
        return [speed, active]


class _Renamed(_Estimator):
    def lively(self, speed: Array, active: Array) -> Any:
        return {"odd_sped": speed, "odd": State(active)}


class _BareState(_Estimator):
    def lively(self, speed: Array, active: Array) -> Any:
        return {"odd_speed": speed, "odd": active}


class _StrengthShape(_Estimator):
    def lively(self, speed: Array, active: Array) -> Any:
        return {"odd_speed": speed, "odd": State(active, active[0])}


class _GivesNotANumber(_Estimator):
    def lively(self, speed: Array, active: Array) -> Any:
        return {"odd_speed": speed * np.nan, "odd": State(active)}


ESTIMATORS = [
    (_Missing, "run returned ['odd_speed']; expected a dict of ['odd', 'odd_speed']"),
    (_List, "run returned list; expected a dict of ['odd', 'odd_speed']"),
    (_Renamed, "run returned ['odd', 'odd_sped']; expected a dict of ['odd', 'odd_speed']"),
    (_BareState, "odd is ndarray; expected State(active, strength)"),
    (_StrengthShape, "odd strength has shape (1, 1); expected (1, 1, 1)"),
    (_GivesNotANumber, "odd_speed is not a number (corner 0, tick 0 of the chunk, case 0)"),
]


@dataclasses.dataclass(frozen=True)
class _ReadsOdd:
    """The law that pulls the odd estimator in."""

    def run(self, now: Chunk, memory: Memory) -> Duty:
        """Needs it."""
        return Duty(np.minimum(0.02 * now.odd_speed, 1.0) * (1.0 - now.odd.active))


@pytest.mark.parametrize(("estimator", "said"), ESTIMATORS, ids=[cls.__name__[1:] for cls, _ in ESTIMATORS])
def test_an_estimator_that_misbehaves_is_named_in_one_line(
    estimator: type, said: str, plug_ins: PlugIns, calibration: Callable[..., Calibration]
) -> None:
    known = _with(_with(plug_ins, estimator), _ReadsOdd)
    line = _pressed(calibration(BASE + '[[layers]]\nname = "odd"\nlaw = "_ReadsOdd"\n', known), known)
    assert f"test_controller.py: {estimator.__name__}: {said}" in line
