"""What a fit looks for: each unknown with what is believed of it before any run, and how sure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.signals import CORNERS, SIDES
from plant.vehicle import Vehicle

Array = NDArray[np.float64]

IMU_LATER: Final = 2.7e-3  # s: delays and filters of `plant.sensors.TYPICAL`, sensor box against travel


@dataclass(frozen=True)
class Unknown:
    """One number: prior mean and standard deviation [SI], unit and factor for people, and the source of the prior."""

    name: str
    mean: float
    sigma: float
    said: str
    factor: float
    source: str


def unknowns_of(vehicle: Vehicle) -> list[Unknown]:
    """All unknowns of a vehicle as measured and as its dyno sheets say. Sigmas without a source named: common practice."""
    return [*_body(vehicle), *_forces(vehicle), *_valves(vehicle), *_offsets(vehicle)]


def _body(vehicle: Vehicle) -> list[Unknown]:
    car = vehicle.car
    return [
        Unknown("sprung_mass", car.sprung_mass, 0.01 * car.sprung_mass, "kg", 1.0, "corner weights, 1 %"),
        Unknown("front_arm", car.front_arm, 0.01, "mm", 1e3, "corner weights, 10 mm"),
        Unknown("cg_left", vehicle.cg_left, 0.005, "mm", 1e3, "corner weights, 5 mm"),
        Unknown("roll_inertia", car.roll_inertia, 0.15 * car.roll_inertia, "kg·m²", 1.0, "type, 15 %"),
        Unknown("pitch_inertia", car.pitch_inertia, 0.15 * car.pitch_inertia, "kg·m²", 1.0, "type, 15 %"),
        Unknown("cg_height", vehicle.cg_height, 0.06, "mm", 1e3, "type, 60 mm"),
    ]


def _forces(vehicle: Vehicle) -> list[Unknown]:
    axles = [Unknown(f"spring_scale {axle}", 1.0, 0.03, "1", 1.0, "spring bench, 3 %") for axle in ("front", "rear")]
    bars = [Unknown(f"bar_scale {axle}", 1.0, 0.15, "1", 1.0, "drawing, 15 %") for axle in ("front", "rear")]
    sheets = [Unknown(f"{side}_scale {corner}", 1.0, 0.03, "1", 1.0, "dyno sheet, 3 %") for side in SIDES for corner in CORNERS]
    rigid = vehicle.series_rate.mean() <= 0.0
    yields = 0.0 if rigid else float(1.0 / vehicle.series_rate.mean())
    series = Unknown("series_yield", yields, 0.1e-6 if rigid else 0.4 * yields, "mm/kN", 1e6, "type, 40 %")
    return [*axles, *bars, series, Unknown("friction_scale", 1.0, 0.4, "1", 1.0, "dyno sheet and bushes, 40 %"), *sheets]


def _valves(vehicle: Vehicle) -> list[Unknown]:
    return [
        Unknown("valve_rise", vehicle.valve_rise, 0.35 * vehicle.valve_rise, "ms", 1e3, "type, 35 %"),
        Unknown("valve_fall", vehicle.valve_fall, 0.35 * vehicle.valve_fall, "ms", 1e3, "type, 35 %"),
        Unknown("valve_delay", vehicle.valve_delay, 1.5e-3, "ms", 1e3, "type, 1.5 ms"),
    ]


def _offsets(vehicle: Vehicle) -> list[Unknown]:
    told: Mapping[str, float | Array] = vehicle.sensor_offset
    travel = np.broadcast_to(np.asarray(told.get("shaft_travel", 0.0), float), 4)
    spread = 0.5e-3 if "shaft_travel" in told else 1e-3
    found = [
        Unknown(f"shaft_travel_offset {corner}", float(off), spread, "mm", 1e3, "zeroing, 0.5 mm" if spread < 1e-3 else "sensors, 1 mm")  # noqa: PLR2004
        for corner, off in zip(CORNERS, travel, strict=True)
    ]
    for axis in "xyz":
        name = f"specific_force_{axis}"
        found.append(Unknown(f"{name}_offset", float(np.asarray(told.get(name, 0.0))), 0.1, "m/s²", 1.0, "sensors, 0.1 m/s²"))
    return [*found, Unknown("sensor_box_later", IMU_LATER, 0.7e-3, "ms", 1e3, "sensors, 0.7 ms")]
