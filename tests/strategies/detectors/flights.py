"""Jumps, and ground that only looks like one, driven by a car that is not the nominal one: laden, worn sensors, some with a travel lost."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.calibration.read import read_calibration
from dualduty.discovery import discover
from dualduty.trace import Case, TraceChunk
from plant.closed_loop import drive
from plant.course import Course
from plant.faults import Fault
from plant.payload import laden
from plant.section import read_section
from plant.sensor_file import read_sensors
from plant.sensor_offsets import with_offsets
from plant.vehicle import read_vehicle
from strategies.controller import Strategy
from tests.strategies.detectors.play import CALIBRATIONS, watching

Array = NDArray[np.float64]
Gate = NDArray[np.bool_]

DT: Final = 0.002
JUMPS: Final = ((0.35, 50.0), (0.45, 44.0), (0.55, 56.0), (0.70, 56.0))  # height of the lip [m], speed [km/h]
GROUNDED: Final = ("corrugation", "crest", "whoops", "braking_rough", "dip", "single_wheel_hit")
LOST: Final = 9  # seed of the cases that lose a travel
STRATEGY: Final = watching(("airborne_likely", "airborne", "wheel_off", "landing", "bump_approach", "droop_approach"))


@dataclass(frozen=True, eq=False)
class Flights:
    """All cases of one drive, by name; truth at the controller's ticks."""

    whole: TraceChunk
    cases: tuple[Case, ...]

    def ticks(self, case: int) -> int:
        """Length of a case."""
        return int(self.whole.running[0, :, case].sum())

    def truth(self, name: str, case: int) -> Array:
        """(corner, tick)."""
        fine = self.whole.truth[name].shape[1] // self.whole.ticks
        return self.whole.truth[name][:, ::fine, case][:, : self.ticks(case)]

    def state(self, name: str, case: int, corner: int = 0) -> Gate:
        """(tick,)."""
        return np.asarray(self.whole.states[name][corner, : self.ticks(case), case] > 0.0)

    def quantity(self, name: str, case: int, corner: int = 0) -> Array:
        """(tick,)."""
        return self.whole.quantities[name][corner, : self.ticks(case), case]

    def flown(self, case: int, least: float = 0.2) -> list[tuple[int, int]]:
        """Ticks between which no wheel carries anything, for at least so many seconds."""
        flown = np.asarray((self.truth("wheel_load", case) < 1.0).all(axis=0))
        return [pair for pair in runs(flown) if (pair[1] - pair[0]) * DT >= least]

    def jumps(self, *, lost: bool) -> list[int]:
        """Cases that fly."""
        return [number for number, case in enumerate(self.cases) if case.section not in GROUNDED and (case.seed == LOST) == lost]

    def grounded(self) -> list[int]:
        """Cases that don't."""
        return [number for number, case in enumerate(self.cases) if case.section in GROUNDED]


def runs(gate: Gate) -> list[tuple[int, int]]:
    """First tick of each open stretch and the first after it."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], np.asarray(gate, int), [0]])))
    return [(int(first), int(last)) for first, last in zip(edges[::2], edges[1::2], strict=True)]


def jump(lip: float, speed: float) -> Course:
    """The shipped kicker with another lip [m], at another speed [km/h]."""
    section = read_section(CALIBRATIONS / "sections" / "kicker_jump.toml")
    (placed,) = section.ground
    piece: Any = placed.piece
    ground = (replace(placed, piece=replace(piece, lip_height=lip)),)
    drive = replace(section.drive, start_speed=speed / 3.6)
    return replace(section, name=f"lip_{1e3 * lip:.0f}_mm", ground=ground, drive=drive).build()


def drive_flights(folder: Path) -> Flights:
    """Drive them all."""
    (folder / "watching.toml").write_text(STRATEGY, encoding="utf-8")
    plug_ins = discover()
    calibration = read_calibration(folder / "watching.toml", plug_ins)
    sections = CALIBRATIONS / "sections"
    rows: list[tuple[Course, int]] = [(jump(lip, speed), seed) for seed in (5, LOST) for lip, speed in JUMPS]
    rows += [(read_section(sections / f"{name}.toml").build(), 5) for name in GROUNDED]
    cases = tuple(Case(course.name, calibration.name, "dash", seed) for course, seed in rows)
    plain = read_vehicle(CALIBRATIONS / "vehicles" / "marram_2.toml")
    vehicle = laden(plain, plain.payloads["two_in_the_back"])
    worn = read_sensors(CALIBRATIONS / "sensors" / "tired.toml")
    lost = Fault("dropout", "shaft_travel", corner="rear_left", start=0.4, seed=LOST)
    controller = Strategy([calibration], [0] * len(rows), plug_ins, DT)
    sensors = with_offsets(replace(worn, faults=(lost,)), vehicle)
    trace = drive([row[0] for row in rows], [vehicle] * len(rows), controller, cases, np.zeros(len(rows), np.int16), sensors=sensors)
    return Flights(trace.whole(), cases)
