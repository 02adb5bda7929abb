"""What the speed tests measure, each in a process of its own: `python probes.py NAME ARGUMENT`, figures as JSON on stdout."""

from __future__ import annotations

import json
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dualduty.calibration.model import Calibration
from dualduty.calibration.read import read_calibration
from dualduty.calibration.settings import defaults
from dualduty.calibration.supply import supply_chain
from dualduty.controller import PackedOutput
from dualduty.discovery import PlugIns, discover
from dualduty.shipped import shipped_calibrations
from dualduty.signals import CONTROLLER_LAYOUT, CONTROLLER_SIGNALS
from dualduty.trace import Case
from dualduty.trial.folder import WorkFolder
from strategies.controller import Strategy
from strategies.strategy_memory import StrategyMemory

DT = 0.002
Array = NDArray[np.float64]
Figures = dict[str, float]


def baseline() -> tuple[Calibration, PlugIns]:
    """The shipped baseline."""
    plug_ins = discover()
    return read_calibration(shipped_calibrations() / "strategies" / "marram_baseline.toml", plug_ins), plug_ins


def whole() -> tuple[Calibration, PlugIns]:
    """The shipped baseline with every estimator and detector that there is, whether a layer needs it or not."""
    calibration, plug_ins = baseline()
    suppliers = [found for found in plug_ins.by_name.values() if found.kind != "law"]
    names = tuple(given.name for found in suppliers for given in found.gives)
    order = supply_chain(calibration.layers, names, plug_ins, {}, "whole strategy")
    extra = {f"{found.kind}s.{found.name}": defaults(found.parameters, len(calibration.modes), calibration.car) for found in suppliers}
    return replace(calibration, suppliers=order, settings=extra | calibration.settings), plug_ins


def stamps(ticks: int) -> Array:
    """Stamps of a log at the controller's rate. [s]"""
    return np.arange(ticks, dtype=np.float64) * np.float64(DT)


def made_up(ticks: int) -> dict[str, Array]:
    """Signals of a long rough drive, invented: slow waves, fast ones, and now and then no weight for a moment."""
    random = np.random.default_rng(7)
    time_axis = stamps(ticks)
    sizes = {"shaft_travel": 0.03, "wheel_speed": 1.0, "specific_force_z": 3.0, "specific_force_y": 3.0, "yaw_rate": 0.3}
    signals = {}
    for signal in CONTROLLER_SIGNALS:
        size = sizes.get(signal.name, 0.05)
        rows = np.empty((signal.corners, ticks))
        for row in rows:
            row[:] = signal.rest + size * (np.sin(random.uniform(0.5, 1.5) * time_axis) + 0.3 * np.sin(random.uniform(40, 60) * time_axis))
        signals[signal.name] = rows
    signals["wheel_speed"] += 15.0
    signals["specific_force_z"][0, (time_axis % 20.0) < 0.4] = 0.5
    for side in ("compression", "rebound"):
        np.clip(signals[f"applied_{side}"], 0.0, 1.0, out=signals[f"applied_{side}"])
    return signals


def peak_memory() -> float:
    """Most memory this process ever held. [MB]"""
    import resource

    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak / 1e6 if sys.platform == "darwin" else peak / 1e3


def log(minutes: str) -> Figures:
    """Replay a log held in memory."""
    from replay.array_log import log_of_arrays
    from replay.open_loop import replay

    calibration, plug_ins = baseline()
    strategy = Strategy([calibration], [0], plug_ins, DT)
    list(replay(log_of_arrays(stamps(5_000), made_up(5_000), "dash"), strategy))
    ticks = round(float(minutes) * 60.0 / DT)
    whole = log_of_arrays(stamps(ticks), made_up(ticks), "dash")
    start = time.perf_counter()
    seen = sum(chunk.ticks for chunk in replay(whole, strategy, keep_signals=False))
    seconds = time.perf_counter() - start
    log_mb = sum(column.nbytes for column in vars(whole.recording)["numbers"].values()) / 1e6
    return {"seconds": seconds, "peak_mb": peak_memory(), "log_mb": log_mb, "ticks": seen}


def tick(cases: str, which: str) -> Figures:
    """One tick of the baseline, or of the whole strategy, as in the closed loop: the mean of many."""
    calibration, plug_ins = whole() if which == "whole" else baseline()
    count = int(cases)
    ticks = 2_000 if count < 100 else 400
    strategy = Strategy([calibration], [0] * count, plug_ins, DT)
    signals = made_up(ticks + 100)
    rows = np.concatenate([signals[name] for name in CONTROLLER_LAYOUT.names])
    mode = np.ones((1, 1, count), np.int16)
    memory = strategy.start()
    seconds = 0.0
    for index in range(ticks + 100):
        sensed = np.repeat(rows[:, index : index + 1, None], count, axis=2)
        start = time.perf_counter()
        strategy.run(sensed, mode, memory)
        seconds += (time.perf_counter() - start) * (index >= 100)
    return {"seconds": seconds / ticks, "suppliers": len(calibration.suppliers), "layers": len(calibration.layers)}


def chunk(which: str) -> Figures:
    """The strategy over a log: 100,000 ticks in chunks as replay takes them."""
    calibration, plug_ins = whole() if which == "whole" else baseline()
    strategy = Strategy([calibration], [0], plug_ins, DT)
    signals = made_up(20_000)
    sensed = np.concatenate([signals[name] for name in CONTROLLER_LAYOUT.names])[:, :, None]
    mode = np.ones((1, sensed.shape[1], 1), np.int16)
    memory = strategy.start()
    strategy.run(sensed, mode, memory)
    start = time.perf_counter()
    for _ in range(5):
        strategy.run(sensed, mode, memory)
    return {"seconds": (time.perf_counter() - start) / 1e5}


class Timed:
    """A controller with a stopwatch."""

    def __init__(self, inner: Strategy) -> None:
        self.inner = inner
        self.seconds = 0.0
        self.dt, self.cases, self.modes, self.layers, self.states = inner.dt, inner.cases, inner.modes, inner.layers, inner.states

    def start(self) -> StrategyMemory:
        """Fresh memory."""
        return self.inner.start()

    def run(self, sensed: Array, mode: NDArray[np.int16], memory: Any) -> PackedOutput:
        """As the strategy inside, on the clock."""
        begin = time.perf_counter()
        output = self.inner.run(sensed, mode, memory)
        self.seconds += time.perf_counter() - begin
        return output


def plant() -> Figures:
    """Every everyday section in every drive mode in one batch, and how much of it the strategy takes."""
    from plant.closed_loop import drive
    from plant.section import read_section
    from plant.vehicle import read_vehicle

    calibration, plug_ins = baseline()
    courses = [read_section(path).build() for path in WorkFolder(shipped_calibrations()).everyday_sections()]
    rows = [(course, mode) for course in courses for mode in range(len(calibration.modes)) for _ in range(2)]
    timed = Timed(Strategy([calibration], [0] * len(rows), plug_ins, DT))
    cases = tuple(Case(course.name, str(number), calibration.modes[mode]) for number, (course, mode) in enumerate(rows))
    vehicle = read_vehicle(calibration.vehicle_file)
    start = time.perf_counter()
    drive([course for course, _ in rows], [vehicle] * len(rows), timed, cases, np.array([mode for _, mode in rows], np.int16))
    seconds = time.perf_counter() - start
    return {"seconds": seconds, "strategy": timed.seconds, "cases": len(rows), "driven": max(course.duration for course in courses)}


PROBES: dict[str, Callable[..., Figures]] = {"log": log, "tick": tick, "chunk": chunk, "plant": plant}

if __name__ == "__main__":
    json.dump(PROBES[sys.argv[1]](*sys.argv[2:]), sys.stdout)
