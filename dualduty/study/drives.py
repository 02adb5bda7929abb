"""The whole library driven in closed loop, and of each drive what a study of the detectors needs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dualduty.calibration.model import Calibration
from dualduty.discovery import PlugIns
from dualduty.signals import CONTROLLER_LAYOUT
from dualduty.study.truth import TruthLine, truth_lines
from dualduty.trace import Case, Header, TraceChunk
from dualduty.trial.clock import Progress, part_of
from dualduty.trial.simulate import drive_cases
from dualduty.true_ground import Stretch, stretches_of
from plant.course import Course
from plant.section import Section
from plant.sensors import Sensors
from plant.vehicle import Vehicle

Array = NDArray[np.float64]
Gate = NDArray[np.bool_]

BATCH = 96  # cases at once: what a batch leaves behind stays within a few gigabytes
TRUTH = ("wheel_load", "reached_compression", "reached_rebound")


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
    lines : tuple of TruthLine
        What was really going on, of every state the truth knows.
    """

    case: Case
    dt: float
    states: dict[str, Gate]
    truth: dict[str, Array]
    duty: dict[str, Array]
    layer: dict[str, NDArray[np.int16]]
    sensed: Array
    mode: int
    lines: tuple[TruthLine, ...] = ()

    @property
    def ticks(self) -> int:
        """Its length."""
        return int(self.sensed.shape[1])

    @property
    def length(self) -> float:
        """Its length. [s]"""
        return self.ticks * self.dt


@dataclass(frozen=True, eq=False)
class Lane:
    """A course, and where its ground has a rhythm."""

    course: Course
    rhythm: tuple[Stretch, ...] = ()

    @classmethod
    def of(cls, section: Section, seed: int | None = None) -> Lane:
        """That of a section, with the file's seed or another one."""
        return cls(section.build(seed), stretches_of(section))


@dataclass(frozen=True, eq=False)
class Lanes:
    """What is driven with one seed, in every drive mode, with which vehicle and sensors."""

    lanes: tuple[Lane, ...]
    seed: int
    vehicle: Vehicle
    sensors: Sensors
    label: str = ""

    def rows(self, modes: Sequence[str]) -> list[tuple[Lane, str]]:
        """Lane and mode of every case, the shortest first, so that a batch is padded little."""
        return sorted(((lane, mode) for lane in self.lanes for mode in modes), key=lambda row: row[0].course.duration)


def driven(lanes: Lanes, calibration: Calibration, modes: Sequence[str], plug_ins: PlugIns, progress: Progress) -> Iterator[Drive]:
    """Every case in closed loop with the calibration, batch by batch."""
    rows = lanes.rows(modes)
    for start in range(0, len(rows), BATCH):
        batch = rows[start : start + BATCH]
        yield from _batch(batch, lanes, calibration, plug_ins, part_of(progress, (start, len(batch)), len(rows)))


def _batch(
    rows: Sequence[tuple[Lane, str]], lanes: Lanes, calibration: Calibration, plug_ins: PlugIns, progress: Progress
) -> Iterator[Drive]:  # fmt: skip
    cases = tuple(Case(lane.course.name, calibration.name, mode, lanes.seed, lanes.label) for lane, mode in rows)
    courses = [lane.course for lane, _ in rows]
    trace = drive_cases([calibration], [0] * len(rows), cases, courses, lanes.vehicle, lanes.sensors, plug_ins, progress=progress)
    whole = trace.whole()
    for number, (lane, _) in enumerate(rows):
        yield drive_of(whole, trace.header, number, lane.rhythm)


def drive_of(whole: TraceChunk, header: Header, number: int, rhythm: Sequence[Stretch] = ()) -> Drive:
    """One case of a batch, copied out of it."""
    ticks = int(whole.running[0, :, number].sum())
    fine = round(header.dt / header.truth_dt)
    sensed = np.concatenate([_of(whole.signals[name], number, ticks) for name in CONTROLLER_LAYOUT.names])
    return Drive(
        header.cases[number], header.dt,
        states={name: _of(values, number, ticks) > 0 for name, values in whole.states.items()},
        truth={name: np.array(whole.truth[name][:, : ticks * fine : fine, number]) for name in TRUTH},
        duty={side: _of(values, number, ticks) for side, values in whole.duty.items()},
        layer={side: np.array(values[:, :ticks, number]) for side, values in whole.layer.items()}, sensed=sensed,
        mode=int(whole.mode[0, 0, number]), lines=tuple(truth_lines(whole, header, number, rhythm)),
    )  # fmt: skip


def _of(values: Array, number: int, ticks: int) -> Array:
    return np.array(values[:, :ticks, number if values.shape[2] > 1 else 0])
