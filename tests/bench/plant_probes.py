"""What the plant's speed tests measure, each in a process of its own: `python plant_probes.py NAME`, figures as JSON on stdout."""

from __future__ import annotations

import dataclasses
import json
import sys
import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.kernels import COMPILED
from dualduty.shipped import shipped_calibrations
from dualduty.signals import CONTROLLER_LAYOUT, TRUTH_LAYOUT
from plant.course import Course, Drive, Ground
from plant.equilibrium import evaluate, starting_states
from plant.packed import Packed, pack, starting_rows
from plant.rows import DISTANCE, HEAVE, HELD_AT, PITCH, RATE_AT, ROLL, SERIES_FORCE, SPEED, STATE_SIZE, WHEEL
from plant.section import read_section
from plant.tick import advance
from plant.vehicle import Vehicle, read_vehicle
from tests.bench.twin import STEPS, Twin, compiler

Array = NDArray[np.float64]
Figures = dict[str, Any]

STEP: Final = 1e-3
NOTHING: Final = np.zeros((0, 1, 1))
WHEELS: Final = slice(WHEEL, WHEEL + 12)  # wheel speeds and slips, which the core leaves out


def marram(**numbers: Any) -> Vehicle:
    """The shipped vehicle, some numbers changed."""
    return read_vehicle(shipped_calibrations() / "vehicles" / "marram.toml").overlay(**numbers)


def section(name: str) -> Course:
    """A shipped section."""
    return read_section(shipped_calibrations() / "sections" / f"{name}.toml").build()


def rough_jump(speed: float = 11.0, seconds: float = 4.0) -> Course:
    """Rough ground, other left than right, with a kicker that the car flies off, and nothing asked of a driver; invented."""
    x = np.arange(0.0, 70.0, 0.05)
    random = np.random.default_rng(3)
    rough = [sum(0.008 * np.sin(2 * np.pi * (x / length + random.uniform())) for length in (0.9, 1.7, 3.1, 5.3)) for _ in range(2)]
    kicker = 0.6 * np.interp(x, [15.0, 19.0, 19.3], [0.0, 1.0, 0.0])
    zero = np.zeros_like(x)
    drive = Drive(speed, zero + speed, zero, zero, zero, hold=zero + 1.0, coast=zero + 1.0)
    return Course("rough jump", Ground(0.05, rough[0] + kicker, rough[1] + kicker), drive, seconds)


class Ready:
    """Cases packed and standing at their start, to be run again and again."""

    def __init__(self, vehicle: Vehicle, course: Course, cases: int = 1, *, noted: bool = False) -> None:
        self.packed: Packed = pack([vehicle] * cases, [course] * cases, STEP, STEPS * STEP)
        self.ticks = int(self.packed.cases["ticks"][0])
        start = starting_rows(self.packed, starting_states([course] * cases, [vehicle] * cases), 0.5)
        evaluate(self.packed, start)
        self.start, self.failed = start, np.full(cases, -1.0)
        levels = np.random.default_rng(1).uniform(0.0, 1.0, (8, self.ticks // 50 + 1, 1))
        self.duty = np.ascontiguousarray(np.broadcast_to(np.repeat(levels, 50, axis=1)[:, : self.ticks], (8, self.ticks, cases)))
        self.by_tick = self.duty[:, :, 0].T.copy()
        self.felt = np.empty((CONTROLLER_LAYOUT.size, self.ticks, cases)) if noted else NOTHING
        self.truth = np.empty((TRUTH_LAYOUT.size, STEPS * self.ticks, cases)) if noted else NOTHING
        self.steps = STEPS * self.ticks * cases

    def kernel(self) -> Array:
        """Drive all cases; their rows at the end."""
        rows = self.start.copy()
        advance(*self._constant, self.duty, 0, 0, STEPS, rows, self.felt, self.truth, self.failed)
        assert (self.failed < 0.0).all()
        return rows

    def kernel_states(self) -> Array:
        """States after each tick: (tick, STATE_SIZE)."""
        rows, kept = self.start.copy(), np.empty((self.ticks, STATE_SIZE))
        for tick in range(self.ticks):
            duty = self.duty[:, tick : tick + 1].copy()
            advance(*self._constant, duty, tick, 0, STEPS, rows, NOTHING, NOTHING, self.failed)
            kept[tick] = rows[0, :STATE_SIZE]
        return kept

    def twin(self, twin: Twin, part: str, kept: Array | None = None) -> None:
        """Drive the case with the twin."""
        twin.run(part, self.packed, self.by_tick, self.start[0].copy(), kept)

    def apart(self, twin: Twin, part: str) -> Array:
        """How far kernel and twin are apart after each tick, forces in kN: (tick, STATE_SIZE)."""
        kept = np.empty((STEPS * self.ticks, STATE_SIZE))
        self.twin(twin, part, kept)
        between = np.abs(self.kernel_states() - kept[STEPS - 1 :: STEPS])
        between[:, SERIES_FORCE : SERIES_FORCE + 4] *= 1e-3
        return between

    @property
    def _constant(self) -> tuple[Any, Array, Array]:
        return self.packed.cases, self.packed.tables, self.packed.tracks


def best(*runs: Callable[[], Any], times: int = 60) -> list[float]:
    """Shortest time of each run, taken in turns, so that a busy machine is equally unfair to all. [s]"""
    shortest = [np.inf] * len(runs)
    for _ in range(times):
        for index, run in enumerate(runs):
            begin = time.perf_counter()
            run()
            shortest[index] = min(shortest[index], time.perf_counter() - begin)
    return shortest


def core_vehicle() -> Vehicle:
    """The shipped vehicle, less all that the twin's core leaves out."""
    return marram(grip=0.0, rolling_resistance=0.0, drive_force=0.0, brake_force=0.0, oil_fade=0.0)


def full_vehicle() -> Vehicle:
    """The shipped vehicle with everything in use that a vehicle file may leave at rest."""
    return marram(
        series_rate=4e5, oil_fade=0.003, valve_delay=0.004, valve_hysteresis=0.05, valve_deadband=0.02, valve_resolution=0.01,
        rim_contact=0.06, motion_ratio_rise=0.2, motion_ratio_bend=0.5, anti_dive=0.3, compression_crosstalk=0.1, slip_growth=0.1,
        cg_left=0.03, droop_loss=0.2,
    )  # fmt: skip


def agreement() -> Figures:
    """How far the kernel and the twin come apart on each course, and whether the jump is one."""
    found: Figures = {}
    with tempfile.TemporaryDirectory() as folder:
        twin = Twin(Path(folder))
        core = Ready(core_vehicle(), rough_jump(), noted=True)
        found["core, rough jump"] = float(np.delete(core.apart(twin, "core"), WHEELS, axis=1).max())
        for name in ("rough_corner", "kicker_jump", "braking_in_corner"):
            ready = Ready(full_vehicle(), section(name))
            found[f"full, {name}"] = float(ready.apart(twin, "full").max())
    core.kernel()
    loads = core.truth[TRUTH_LAYOUT.rows["wheel_load"], :, 0]
    stops = core.truth[TRUTH_LAYOUT.rows["stop_force"], :, 0]
    kept = core.kernel_states()
    flown = STEP * float((loads.max(axis=0) == 0.0).sum())
    return {"apart": found, "flown": flown, "stop": float(np.abs(stops).max()), "roll": float(np.ptp(kept[:, ROLL])), "driven": 4.0}


def speed() -> Figures:
    """One case, with truth and without, beside the twin; seconds of compute, steps taken, shortest of many."""
    found: Figures = {}
    with tempfile.TemporaryDirectory() as folder:
        twin = Twin(Path(folder))
        for name in ("rough_corner", "kicker_jump"):
            noted, plain = Ready(marram(), section(name), noted=True), Ready(marram(), section(name))
            seconds = best(noted.kernel, plain.kernel, partial(plain.twin, twin, "full"))
            found[name] = dict(zip(("noted", "plain", "twin"), (1e6 * second / plain.steps for second in seconds), strict=True))
        core = Ready(core_vehicle(), rough_jump())
        seconds = best(core.kernel, partial(core.twin, twin, "full"), partial(core.twin, twin, "core"))
        found["rough jump"] = dict(zip(("plain", "twin", "core"), (1e6 * second / core.steps for second in seconds), strict=True))
    return found


def cost() -> Figures:
    """Microseconds per plant step and case, with truth: over numbers of cases, and over lengths of time."""
    ready = {cases: Ready(marram(), section("rough_corner"), cases, noted=True) for cases in (1, 10, 42, 100)}
    over_cases = {cases: 1e6 * best(one.kernel, times=5)[0] / one.steps for cases, one in ready.items()}
    course = section("iso_road")
    lengths = {
        seconds: Ready(marram(), dataclasses.replace(course, duration=seconds), noted=True) for seconds in (2.0, 5.0, 10.0, 20.0, 40.0)
    }
    over_time = {seconds: 1e6 * best(one.kernel, times=10)[0] / one.steps for seconds, one in lengths.items()}
    return {"cases": over_cases, "seconds": over_time}


def compiling() -> Figures:
    """Seconds this process had to compile for, by kernel."""
    return dict(COMPILED)


def control_library() -> Figures:
    """The same second and a half through python-control's nonlinear simulation, from the same rates, beside the kernel."""
    import control

    course, vehicle = rough_jump(seconds=1.5), marram(oil_fade=0.0, valve_hysteresis=0.0, valve_deadband=0.0)
    ready = Ready(vehicle, course)
    ready.duty[:] = 0.5
    row = ready.start.copy()

    def rates(_time: float, state: Array, _input: Array, _params: Any) -> Array:
        row[0, :STATE_SIZE] = state
        evaluate(ready.packed, row)
        return row[0, RATE_AT:HELD_AT].copy()

    system = control.nlsys(rates, None, inputs=0, outputs=STATE_SIZE, states=STATE_SIZE)
    times = STEPS * STEP * np.arange(ready.ticks + 1)
    options = {"rtol": 1e-8, "atol": 1e-10, "max_step": 5e-3}
    begin = time.perf_counter()
    response = control.input_output_response(system, times, initial_state=ready.start[0, :STATE_SIZE], solve_ivp_kwargs=options)
    seconds = time.perf_counter() - begin
    apart = np.abs(response.states.T[1:] - ready.kernel_states())
    named = {"heave": HEAVE, "roll": ROLL, "pitch": PITCH, "distance": DISTANCE, "speed": SPEED}
    return {
        "seconds": seconds, "kernel": best(ready.kernel)[0], "driven": course.duration,
        "apart": {name: float(apart[:, row].max()) for name, row in named.items()},
    }  # fmt: skip


PROBES: dict[str, Callable[[], Figures]] = {
    "agreement": agreement, "speed": speed, "cost": cost, "compiling": compiling, "control_library": control_library,
}  # fmt: skip

NEED_TWIN: Final = {"agreement", "speed"}

if __name__ == "__main__":
    if sys.argv[1] in NEED_TWIN and compiler() is None:
        json.dump({"skipped": "no C compiler here: the twin can't be built"}, sys.stdout)
    else:
        json.dump(PROBES[sys.argv[1]](), sys.stdout)
