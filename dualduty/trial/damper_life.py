"""Where the dampers of a vehicle lived in a stretch of a log, or of a simulated section."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.calibration.read import read_calibration
from dualduty.car import Car
from dualduty.discovery import PlugIns
from dualduty.errors import BadInput
from dualduty.signals import CORNERS, SIDES
from dualduty.trace import Trace, TraceChunk
from dualduty.trial.folder import WorkFolder
from dualduty.trial.run_sheet import RunSheet
from dualduty.trial.sameness import driver_file
from plant.vehicle import Vehicle
from replay.damper_life import CornerLife, Dampers, folds
from replay.shaft_motion import CUT_OFF, HOP, Derivative, known_corners, shaft_motion

Array = NDArray[np.float64]
Window = tuple[float, float]

EVERYTHING: Final[Window] = (0.0, float("inf"))


@dataclass(frozen=True, eq=False)
class DamperLife:
    """A run: one life per corner (None where its travel is not logged), whose dampers, and in words how speed and force are known.

    `stamp` says of a simulated run how far its plant was compared with a vehicle.
    """

    name: str
    corners: tuple[CornerLife | None, ...]
    dampers: Dampers
    car: Car
    window: Window
    source: str
    doubts: tuple[str, ...]
    stamp: str = ""

    @property
    def seconds(self) -> float:
        """Time looked at, of the corner that has most. [s]"""
        return max((one.seconds for one in self.corners if one is not None), default=0.0)


def dampers_of(vehicle: Vehicle) -> Dampers:
    """Force maps and position zones of a vehicle: those of its own dampers where it has sheets of them."""
    own = {side: tuple(vehicle.own_maps[side]) for side in SIDES if side in vehicle.own_maps}
    maps = {side: own.get(side) or tuple(vehicle.car.damper_map(side, corner) for corner in range(len(CORNERS))) for side in SIDES}
    zones = {side: tuple(None if z is None else (z.travels, z.multipliers) for z in vehicle.zones[side]) for side in vehicle.zones}
    return Dampers(maps, zones, f"{'own dyno sheets' if own else 'nominal maps'} of {vehicle.car.name}")


def vehicle_file_of(sheet: RunSheet, work: WorkFolder, chosen: str | None, plug_ins: PlugIns) -> Path:
    """File of the vehicle chosen, else of the one the run file names, else of that of the calibration that drove."""
    if chosen:
        return work.vehicle(chosen)
    named = work.root / "vehicles" / f"{sheet.vehicle.strip().replace(' ', '_').lower()}.toml"
    if sheet.vehicle and named.is_file():
        return named
    try:
        return read_calibration(driver_file(sheet, work), plug_ins).vehicle_file
    except BadInput as problem:
        raise BadInput(
            f"run {sheet.name}: vehicle", f"no vehicle file for {sheet.vehicle!r} ({problem}); choose one with --vehicle"
        ) from None


def window_of(sheet: RunSheet, section: str | None, window: Window) -> Window:
    """The window in seconds, or that of a section which the run file names."""
    if section is None:
        return window
    for one in sheet.sections:
        if one.name == section:
            return one.start, one.end
    known = ", ".join(one.name for one in sheet.sections) or "none"
    raise BadInput(f"run {sheet.name}: section {section}", f"is not named in its run file; known: {known}")


def life_of_log(sheet: RunSheet, vehicle: Vehicle, window: Window = EVERYTHING, cut_off: float = CUT_OFF) -> DamperLife:
    """Read the raw travels and duties of a log once, and count; BadInput where no travel is logged in the window."""
    log = sheet.open()
    dampers = dampers_of(vehicle)
    corner_folds = folds(dampers)
    rule: Derivative | None = None
    for found, motion in shaft_motion(log, window, cut_off):
        rule = found
        corner_folds[motion.corner].take((motion.travel, motion.speed), motion.duties, found.step, noise=motion.noise)
    have = known_corners(log)
    lives = tuple(fold.result(rule.noise_gain) if rule and corner in have else None for corner, fold in enumerate(corner_folds))
    if rule is None or not any(life is not None and life.seconds > 0.0 for life in lives):
        raise BadInput(log.name, f"holds no shaft travel {_from_to(window)}; expected at least one corner's")
    name = sheet.name + ("" if window == EVERYTHING else f", {_from_to(window)}")
    return DamperLife(name, lives, dampers, vehicle.car, window, _source(rule), _doubts(lives, dampers))


def _from_to(window: Window) -> str:
    return f"from {window[0]:g} s on" if np.isinf(window[1]) else f"{window[0]:g} s to {window[1]:g} s"


def _source(rule: Derivative) -> str:
    rate, hop = 1.0 / rule.step, 100.0 * abs(rule.error_at_hop)
    passed = f"-3 dB at {rule.cut_off:.0f} Hz, {hop:.1f} % off at {HOP:g} Hz"
    return f"speed from raw travel at {rate:.0f} Hz with hindsight: {passed}"


def _doubts(lives: tuple[CornerLife | None, ...], dampers: Dampers) -> tuple[str, ...]:
    known = [life for life in lives if life is not None]
    noise = [life.speed_noise for life in known if np.isfinite(life.speed_noise)]
    lines = [f"noise in travel makes {max(noise):.3f} m/s r.m.s. of speed at worst"] if noise else []
    if all(life.known.sum() == 0.0 for life in known):
        return (*lines, "no duties were logged: force, energy and heat are not known")
    unknown = max(1.0 - life.known.sum() / life.moving.sum() for life in known if life.moving.sum() > 0.0)
    zones = " and its position zones" if dampers.zones else ""
    lines.append(f"force from {dampers.source}{zones} at the logged duty; no valve lag, friction, gas or heat in it")
    return (*lines, f"no duty for {100 * unknown:.1f} % of the time") if unknown > 0.001 else tuple(lines)  # noqa: PLR2004 - a tenth of a per cent


def life_of_trace(trace: Trace, vehicle: Vehicle, name: str, case: int = 0) -> DamperLife:
    """Count a simulated run from its truth: true travel, speed and damper force, and the duties its valves had reached."""
    dampers = dampers_of(vehicle)
    corner_folds = folds(dampers)
    step = trace.header.truth_dt
    for chunk in trace:
        if "true_shaft_speed" not in chunk.truth:
            raise BadInput(name, "holds no truth of the shafts; expected a simulated run")
        running = np.repeat(chunk.running[0, :, case] > 0.0, chunk.truth["true_travel"].shape[1] // chunk.ticks)
        for corner, fold in enumerate(corner_folds):
            travel, speed, force = (
                _truth(chunk, key, corner, case)[running] for key in ("true_travel", "true_shaft_speed", "damper_force")
            )
            duties = np.stack([_truth(chunk, f"reached_{side}", corner, case)[running] for side in SIDES])
            fold.take((travel, speed), duties, step, force)
    lives = tuple(fold.result() for fold in corner_folds)
    told = "speed, force and the duties its valves reached are those of the plant"
    return DamperLife(name, lives, dampers, vehicle.car, EVERYTHING, told, (), trace.header.stamp)


def _truth(chunk: TraceChunk, name: str, corner: int, case: int) -> Array:
    return chunk.truth[name][corner, :, case]


def run_files(said: str, work: WorkFolder) -> Path:
    """A run file by path, or by name within the folder's logs."""
    return Path(said) if Path(said).suffix == ".toml" else work.log_files((said,))[0]
