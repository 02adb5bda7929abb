"""A working folder with marked demo sessions, made from a seed: driven, recorded, spoilt as fields spoil logs, and marked."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

import numpy as np

from dualduty.calibration.read import read_calibration
from dualduty.discovery import discover
from dualduty.errors import BadInput
from dualduty.files import whole_folder
from dualduty.shipped import shipped_calibrations
from dualduty.trial.clock import DT, Progress, part_of
from dualduty.trial.demo_session.car import SessionCar, session_car
from dualduty.trial.demo_session.frame import Frame, frame_of
from dualduty.trial.demo_session.lane import join_lane, order
from dualduty.trial.demo_session.logs_folder import LogsFolder, Session
from dualduty.trial.demo_session.recipes import LOST_ON, marker_presses, with_faults, with_wrong_wiring
from dualduty.trial.demo_session.record import Drive, Driven, drive_all
from dualduty.trial.demo_session.truth_marks import peoples_marks, truth_marks
from dualduty.trial.demo_session.write_log import check_format
from dualduty.trial.folder import copy_demo_data
from plant.section import Section, list_sections, read_section
from plant.vehicle import read_vehicle

FRESH: Final = "fresh_dash"
CLEAN: Final = "clean_dash"
TWO_PEOPLE: Final = "session_dash"  # whose flights two people marked as well
_PLANS: Final = {  # name: drive mode, and what the lane begins with, which is all of it in a quick one
    "session_patrol": ("patrol", ("corrugation", "kicker_jump", "constant_radius", "iso_road")),
    "session_dash": ("dash", ("kicker_jump", "whoops", "braking_straight")),
    "session_haul": ("haul", ("off_camber_corner", "haul_track", "side_slope")),
    FRESH: ("dash", ("whoops", "whoops", "kicker_jump")),
}
_OFTEN: Final = ("kicker_jump", "kicker_sloped_landing", "whoops", "corrugation")  # what few other sections show
_QUICK: Final = 24.0  # s of each log, two minutes in all
_PRESSES_EVERY: Final = 150.0  # s between presses of the marker button in a session


@dataclass(frozen=True)
class Asked:
    """What sessions are asked for: a seed, how long each log lasts [s], in which format."""

    seed: int = 1
    duration: float = 870.0
    form: str = "csv"
    quick: bool = False

    @property
    def seconds(self) -> float:
        """Length of each log. [s]"""
        return _QUICK if self.quick else self.duration


def make_demo_sessions(path: Path, asked: Asked, progress: Progress) -> list[Session]:
    """Make the folder, whole or not at all; gives what lies in its `logs`."""
    check_format(asked.form)
    if path.exists():
        raise BadInput(path, "exists already; expected the name of a new folder")
    shipped = shipped_calibrations()
    plug_ins = discover()
    calibration = read_calibration(shipped / "strategies" / "marram_baseline.toml", plug_ins)
    car = session_car(read_vehicle(shipped / "vehicles" / "marram_2.toml"), asked.seed)
    sections = {one.name: one for one in map(read_section, list_sections(shipped / "sections"))}
    with whole_folder(path) as draft:
        copy_demo_data(draft)
        driven = drive_all(_drives(asked, sections), car, calibration, plug_ins, part_of(progress, (0, 8), 10))
        folder = LogsFolder(draft, calibration.name, asked.form)
        folder.write_car(car.differences, asked.seed)
        return _write_all(folder, driven, car, part_of(progress, (8, 2), 10))


def _drives(asked: Asked, sections: dict[str, Section]) -> list[Drive]:
    made = []
    for at, (name, (mode, opening)) in enumerate(_PLANS.items()):
        random = np.random.default_rng([asked.seed, 10 + at])
        drawn: Iterable[str] = order(opening if asked.quick else sorted(sections), opening, random, () if asked.quick else _OFTEN)
        made.append(Drive(name, mode, 100 * asked.seed + at, join_lane(name, sections, drawn, asked.seconds, random)))
    return made


def _write_all(folder: LogsFolder, driven: Sequence[Driven], car: SessionCar, progress: Progress) -> list[Session]:
    """Every drive as its log; the dash session once more as the clean one, which is the very same drive without faults."""
    clean = [replace(one, drive=replace(one.drive, name=CLEAN)) for one in driven if one.drive.name == TWO_PEOPLE]
    sessions = []
    for at, one in enumerate([*driven, *clean]):
        sessions.append(_write(folder, one, car.vehicle.car.wheelbase))
        progress((at + 1) / (len(driven) + len(clean)))
    return sessions


def _write(folder: LogsFolder, driven: Driven, wheelbase: float) -> Session:
    name, seed = driven.drive.name, driven.drive.seed
    frame = frame_of(driven)
    sections = _sections(driven, frame, wheelbase)
    if name == FRESH and LOST_ON not in sections:
        raise BadInput("--minutes", f"too short: {LOST_ON} is not driven to its end; expected more")
    count = 2 if name == FRESH else max(round(frame.length / _PRESSES_EVERY), 1)
    presses = marker_presses(frame, count, seed)
    injected = with_wrong_wiring(frame, sections, seed) if name == FRESH else with_faults(frame, name, seed)
    marks = truth_marks(driven.whole, driven.header, driven.drive.lane.stretches, frame.true_start)
    marks = [mark for mark in marks if mark.end <= frame.length]
    session = Session(name, driven.drive.mode, frame, sections, injected, presses, [] if name == FRESH else marks)
    folder.write(session)
    if name == TWO_PEOPLE:
        folder.write_people(session, peoples_marks(marks, seed))
    return session


def _sections(driven: Driven, frame: Frame, wheelbase: float) -> dict[str, tuple[float, float]]:
    """When each section was driven: from its first metre under the front axle to its last one under the rear; whole ones only. [s]"""
    distance = driven.distance
    reached = [leg for leg in driven.drive.lane.legs if leg.end + wheelbase <= distance[-1]]
    times = {
        leg.name: tuple(round(float(np.searchsorted(distance, at)) * DT - frame.true_start, 3) for at in (leg.start, leg.end + wheelbase))
        for leg in reached
    }
    return {name: (start, end) for name, (start, end) in times.items() if end <= frame.length}
