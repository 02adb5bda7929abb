"""The detector study: the library and a ladder of jumps, driven by vehicles that are not the nominal one, detections against truth."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from dualduty.calibration.model import Calibration
from dualduty.discovery import PlugIns
from dualduty.study.detection_events import Events
from dualduty.study.drives import Drive, Lane, Lanes, driven
from dualduty.study.touchdown import Preparing, Touchdown, touchdowns
from dualduty.study.trade_off import TradeOff, trade_off
from dualduty.trial.clock import Progress, part_of
from plant.section import read_section
from plant.sensors import Sensors
from plant.vehicle import Vehicle

DRIVEN_SHARE = 0.4  # of the time goes into driving, the rest into the trade-off: measured


@dataclass(frozen=True, eq=False)
class Plan:
    """What is driven: sections and further lanes, vehicles by label, drive modes, sensors, and the seeds of ground and sensors."""

    sections: tuple[Path, ...]
    further: tuple[Lane, ...]
    vehicles: dict[str, Vehicle]
    modes: tuple[str, ...]
    sensors: Sensors
    seeds: tuple[int, ...]

    def lanes(self, label: str, seed: int) -> Lanes:
        """Everything that one vehicle drives with one seed."""
        lanes = tuple(Lane.of(read_section(path), seed) for path in self.sections)
        return Lanes((*lanes, *self.further), seed, self.vehicles[label], self.sensors, label)


@dataclass(eq=False)
class Findings:
    """What came of it: events over all, events by vehicle, and touchdowns."""

    calibration: Calibration
    plan: Plan
    events: Events = field(default_factory=Events)
    by_vehicle: dict[str, Events] = field(default_factory=dict)
    touchdowns: list[Touchdown] = field(default_factory=list)
    drives: int = 0
    minutes: float = 0.0

    def take_in(self, drive: Drive, label: str, layers: Preparing) -> None:
        """One drive of one vehicle."""
        self.events.add(drive)
        self.by_vehicle.setdefault(label, Events()).add(drive)
        self.touchdowns += touchdowns(drive, layers)
        self.drives += 1
        self.minutes += drive.length / 60.0


def detector_study(calibration: Calibration, plan: Plan, plug_ins: PlugIns, progress: Progress) -> tuple[Findings, TradeOff]:
    """Drive everything, compare, and replay the trade-off over the drives of the first seed and mode."""
    found = Findings(calibration, plan)
    kept: list[Drive] = []
    parts = [(label, seed) for label in plan.vehicles for seed in plan.seeds]
    driving = _share(progress, 0.0, DRIVEN_SHARE)
    for number, (label, seed) in enumerate(parts):
        step = part_of(driving, (number, 1), len(parts))
        for drive in driven(plan.lanes(label, seed), calibration, plan.modes, plug_ins, step):
            found.take_in(drive, label, Preparing.of(calibration))
            if seed == plan.seeds[0] and drive.case.mode == plan.modes[0]:
                kept.append(drive)
    return found, trade_off(kept, calibration, plug_ins, _share(progress, DRIVEN_SHARE, 1.0))


def _share(progress: Progress, low: float, high: float) -> Progress:
    return lambda share: progress(low + (high - low) * share)
