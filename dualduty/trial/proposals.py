"""Proposals for the marks of a run: by someone who sees all of the log afterwards, or by the detectors of a calibration."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Final

from dualduty.calibration.model import Calibration
from dualduty.car import Car
from dualduty.discovery import PlugIns
from dualduty.signals import CORNERS
from dualduty.this_vehicle import read_this_car
from dualduty.trace import Case
from dualduty.trial.clock import DT, Progress
from dualduty.trial.folder import WorkFolder
from dualduty.trial.run_sheet import RunSheet
from replay.check.intervals import Ticks, seen_states
from replay.marks.mark import PROPOSED, Mark
from replay.offline.offline_states import TOLD, offline_states
from replay.open_loop import replay
from strategies.detections import Detections

EVENTS: Final = (
    "airborne",
    "landing",
    "cornering",
    "braking",
    "accelerating",
)  # proposed where no state is named: few, and each one an event


def offline_proposals(sheet: RunSheet, states: Sequence[str] = (), car: Car | None = None) -> list[Mark]:
    """What someone would say who sees the log from both sides; see `replay.offline.offline_states`."""
    return offline_states(sheet.open(), car, states or tuple(name for name in EVENTS if name in TOLD))


def detector_proposals(
    sheet: RunSheet, calibration: Calibration, plug_ins: PlugIns, states: Sequence[str] = (), progress: Progress | None = None
) -> list[Mark]:
    """What the detectors of a calibration say of the log; the origin names the detector and the calibration."""
    classes = [plug_ins.by_name[name] for name in calibration.suppliers]
    detector = {given.name: found.name for found in classes for given in found.gives if given.is_state}
    wanted = tuple(states) or tuple(name for name in EVENTS if name in detector)
    controller = Detections([calibration], [0], plug_ins, DT, states=wanted)
    case = Case(sheet.name, calibration.name, "as driven", vehicle=sheet.vehicle)
    trace = replay(sheet.open(), controller, case=case, progress=progress, keep_signals=False)
    seen = seen_states(trace, wanted)
    return [
        mark
        for state in wanted
        for corner, ticks in enumerate(seen.rows[state])
        for mark in _marks(
            state, CORNERS[corner] if len(seen.rows[state]) > 1 else "", ticks, f"detector {detector[state]} of {calibration.name}"
        )
    ]


def _marks(state: str, where: str, ticks: Ticks, origin: str) -> list[Mark]:
    return [Mark(state, first * DT, last * DT, where, origin=origin, status=PROPOSED) for first, last in ticks.tolist()]


def car_of(sheet: RunSheet, work: WorkFolder, chosen: str = "") -> Car | None:
    """Numbers of the vehicle chosen, or of the one the run names where the folder has it; None where it hasn't."""
    if chosen:
        return read_this_car(work.vehicle(chosen))
    named = _file_of(sheet.vehicle, work)
    return read_this_car(named) if named else None


def _file_of(vehicle: str, work: WorkFolder) -> Path | None:
    """`marram 2` is marram_2.toml."""
    name = vehicle.strip().replace(" ", "_")
    found = work.root / "vehicles" / f"{name}.toml"
    return found if name and "/" not in name and found.is_file() else None
