"""Drive baseline and candidate over simulated sections, all cases in one batch where their structure allows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from dualduty.calibration.model import Calibration
from dualduty.discovery import PlugIns
from dualduty.errors import BadInput
from dualduty.scoring.score import Scores, join_scores, score
from dualduty.trace import Case, Trace
from dualduty.trial.cars import Cars, read_cars
from dualduty.trial.clock import DT, Progress, part_of
from plant.closed_loop import drive
from plant.course import Course
from plant.section import read_section
from plant.sensor_offsets import with_offsets
from plant.sensors import Sensors
from plant.vehicle import Vehicle
from strategies.controller import Strategy


@dataclass(frozen=True)
class Simulated:
    """Traces of the batches driven, and the scores of all their cases."""

    traces: tuple[Trace, ...]
    scores: Scores

    def find(self, section: str, mode: str, candidate: str) -> tuple[Trace, int]:
        """The trace and case index of one case (its first seed)."""
        for trace in self.traces:
            for index, case in enumerate(trace.header.cases):
                if (case.section, case.mode, case.candidate) == (section, mode, candidate):
                    return trace, index
        raise KeyError((section, mode, candidate))


@dataclass(frozen=True)
class Lane:
    """What is driven: sections, drive modes and seeds (None for the section's own), with which sensors, faults and driver's trim."""

    sections: tuple[Path, ...]
    modes: tuple[str, ...]
    seeds: tuple[int | None, ...] = (None,)
    sensors: Sensors = field(default_factory=Sensors.typical)
    driver_trim: float = 0.0

    @property
    def put_in(self) -> tuple[str, ...]:
        """What was put into the runs that isn't so by itself, in words."""
        trim = (f"driver's trim at {self.driver_trim:+g} steps",) if self.driver_trim else ()
        return (*(fault.words for fault in self.sensors.faults), *trim)


@dataclass(frozen=True, eq=False)
class _Column:
    """A calibration, the name of its column, and the vehicle it drives."""

    calibration: Calibration
    name: str
    vehicle: Vehicle


def simulate(
    calibrations: Sequence[Calibration], lane: Lane, plug_ins: PlugIns, progress: Progress | None = None, cars: Cars | None = None
) -> Simulated:
    """Drive every calibration over every section, mode and seed, and score it.

    Without `cars` all drive the vehicle of the first calibration. Candidates of one structure that drive the same vehicle
    share a batch. Sensors err as usual ones do, alike for all candidates: one that never stirs, as a perfect yaw gyro on a
    straight lane, is taken for stuck.
    """
    cars = cars or read_cars(calibrations[0].vehicle_file)
    columns = [_Column(*both) for both in zip(calibrations, cars.columns(calibrations), cars.vehicles(len(calibrations)), strict=True)]
    courses = _courses(lane)
    groups = _batches(columns)
    traces, scores = [], []
    for done, group in enumerate(groups):
        step = None if progress is None else part_of(progress, (done, 1), len(groups))
        traces.append(_drive(group, lane, courses, cars.label, plug_ins, step))
        scores.append(score(traces[-1], group[0].vehicle.car))
    return Simulated(tuple(traces), join_scores(scores))


def check_modes(modes: tuple[str, ...], calibration: Calibration) -> tuple[str, ...]:
    """The drive modes asked for, or all; BadInput for one the calibration doesn't know."""
    for mode in modes:
        if mode not in calibration.modes:
            raise BadInput(f"drive mode {mode}", f"is not known to {calibration.file}; expected one of {', '.join(calibration.modes)}")
    return modes or calibration.modes


def _courses(lane: Lane) -> dict[tuple[str, int], Course]:
    courses = {}
    for path in lane.sections:
        section = read_section(path)
        for seed in lane.seeds:
            courses[section.name, seed or 0] = section.build(seed)
    return courses


def _batches(columns: Sequence[_Column]) -> list[list[_Column]]:
    groups: dict[object, list[_Column]] = {}
    for column in columns:
        groups.setdefault((column.calibration.batch, id(column.vehicle)), []).append(column)
    return list(groups.values())


def _drive(
    group: list[_Column], lane: Lane, courses: dict[tuple[str, int], Course], label: str, plug_ins: PlugIns, progress: Progress | None
) -> Trace:  # fmt: skip
    rows = [(course, mode, index) for course in courses for mode in lane.modes for index in range(len(group))]
    cases = tuple(Case(section, group[index].name, mode, seed, label) for (section, seed), mode, index in rows)
    trace = drive_cases(
        [column.calibration for column in group], [index for _, _, index in rows], cases, [courses[key] for key, _, _ in rows],
        group[0].vehicle, lane.sensors, plug_ins, driver_trim=lane.driver_trim, progress=progress,
    )  # fmt: skip
    digests = {column.calibration.name: column.calibration.digest for column in group}
    return replace(trace, header=replace(trace.header, digests={**trace.header.digests, **digests}))


def drive_cases(  # noqa: PLR0913 - what a batch is made of
    calibrations: Sequence[Calibration], candidate_of_case: Sequence[int], cases: tuple[Case, ...], courses: Sequence[Course],
    vehicle: Vehicle, sensors: Sensors, plug_ins: PlugIns, *, driver_trim: float = 0.0, progress: Progress | None = None,
) -> Trace:  # fmt: skip
    """Every case in closed loop, in the drive mode it names, on one vehicle with its sensors' offsets."""
    strategy = Strategy(calibrations, candidate_of_case, plug_ins, DT)
    modes = np.array([strategy.modes.index(case.mode) for case in cases], np.int16)
    own = with_offsets(sensors, vehicle)
    return drive(courses, [vehicle] * len(cases), strategy, cases, modes, sensors=own, driver_trim=driver_trim, progress=progress)
