"""The whole library driven in closed loop, and of each drive what a study of the detectors needs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dualduty.calibration.model import Calibration
from dualduty.discovery import PlugIns
from dualduty.signals import CONTROLLER_LAYOUT
from dualduty.trace import Case, TraceChunk
from dualduty.trial.clock import DT, Progress
from plant.closed_loop import drive
from plant.course import Course
from plant.sensor_offsets import with_offsets
from plant.sensors import Sensors
from plant.vehicle import Vehicle
from strategies.controller import Strategy

Array = NDArray[np.float64]
Gate = NDArray[np.bool_]

BATCH = 96  # cases at once: what a batch leaves behind stays within a few gigabytes
TRUTH = ("wheel_load", "speed", "reached_compression", "reached_rebound")


@dataclass(frozen=True, eq=False)
class Drive:
    """One case, cut to its length; truth is read at the controller's ticks.

    states : dict of (corner, tick) bool arrays
    truth, duty : dict of (corner, tick) arrays
        [SI]
    layer : dict of (corner, tick) int arrays
        Which layer decided each side, by index.
    sensed : (row, tick) array
        What the controller saw, rows by `signals.CONTROLLER_LAYOUT`. [SI]
    mode : int
        Drive mode by index.
    """

    case: Case
    dt: float
    states: dict[str, Gate]
    truth: dict[str, Array]
    duty: dict[str, Array]
    layer: dict[str, NDArray[np.int16]]
    sensed: Array
    mode: int

    @property
    def ticks(self) -> int:
        """Its length."""
        return int(self.sensed.shape[1])

    @property
    def length(self) -> float:
        """Its length. [s]"""
        return self.ticks * self.dt

    def signal(self, name: str) -> Array:
        """One sensed signal, (corner, tick). [SI]"""
        return self.sensed[CONTROLLER_LAYOUT.rows[name]]


@dataclass(frozen=True, eq=False)
class Lanes:
    """What is driven, in every drive mode: courses by seed, with which vehicle and sensors."""

    courses: dict[int, tuple[Course, ...]]
    vehicle: Vehicle
    sensors: Sensors
    label: str = ""

    def rows(self, modes: Sequence[str]) -> list[tuple[Course, str, int]]:
        """Course, mode and seed of every case, the shortest first, so that a batch is padded little."""
        rows = [(course, mode, seed) for seed, courses in self.courses.items() for course in courses for mode in modes]
        return sorted(rows, key=lambda row: row[0].duration)


def driven(lanes: Lanes, calibration: Calibration, modes: Sequence[str], plug_ins: PlugIns, progress: Progress) -> Iterator[Drive]:
    """Every case in closed loop with the calibration, batch by batch."""
    rows = lanes.rows(modes)
    for start in range(0, len(rows), BATCH):
        batch = rows[start : start + BATCH]
        yield from _batch(
            batch, lanes, calibration, plug_ins, lambda share, at=start, of=len(batch): progress((at + share * of) / len(rows))
        )


def part_of(progress: Progress, part: tuple[int, int], whole: int) -> Progress:
    """Progress of a part (where it starts, how long it is) of the whole."""
    return lambda share: progress((part[0] + share * part[1]) / whole)


def _batch(
    rows: Sequence[tuple[Course, str, int]], lanes: Lanes, calibration: Calibration, plug_ins: PlugIns, progress: Progress
) -> Iterator[Drive]:
    cases = tuple(Case(course.name, calibration.name, mode, seed, lanes.label) for course, mode, seed in rows)
    strategy = Strategy([calibration], [0] * len(rows), plug_ins, DT)
    modes = np.array([strategy.modes.index(mode) for _, mode, _ in rows], np.int16)
    sensors = with_offsets(lanes.sensors, lanes.vehicle)
    trace = drive(
        [course for course, _, _ in rows], [lanes.vehicle] * len(rows), strategy, cases, modes, sensors=sensors, progress=progress
    )
    whole = trace.whole()
    for number, case in enumerate(cases):
        yield drive_of(whole, case, number, trace.header.dt)


def drive_of(whole: TraceChunk, case: Case, number: int, dt: float) -> Drive:
    """One case of a batch, copied out of it."""
    ticks = int(whole.running[0, :, number].sum())
    fine = whole.truth["wheel_load"].shape[1] // whole.ticks
    sensed = np.concatenate([_of(whole.signals[name], number, ticks) for name in CONTROLLER_LAYOUT.names])
    return Drive(
        case, dt,
        states={name: _of(values, number, ticks) > 0 for name, values in whole.states.items()},
        truth={name: np.array(whole.truth[name][:, : ticks * fine : fine, number]) for name in TRUTH},
        duty={side: _of(values, number, ticks) for side, values in whole.duty.items()},
        layer={side: np.array(values[:, :ticks, number]) for side, values in whole.layer.items()}, sensed=sensed,
        mode=int(whole.mode[0, 0, min(number, whole.mode.shape[2] - 1)]),
    )  # fmt: skip


def _of(values: Array, number: int, ticks: int) -> Array:
    return np.array(values[:, :ticks, number if values.shape[2] > 1 else 0])
