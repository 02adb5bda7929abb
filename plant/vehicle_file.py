"""Vehicle files of both kinds as vehicles of the plant: a type, or one vehicle of a type as it was measured."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.car import Car, car_of, raise_all, read_document
from dualduty.dyno.reading import read_sheet
from dualduty.dyno.sheet import Sheet
from dualduty.errors import BadInput, SeveralBadInputs
from dualduty.number_table import belongs, given_numbers, laid_over, read_numbers
from dualduty.parameters import Declaration, declarations
from dualduty.signals import CORNER_LABELS, CORNERS, SIDES, SIGNALS
from dualduty.this_vehicle import WEIGHT, OnScales, ThisVehicle, read_this, this_car
from dualduty.toml_file import optional_table, read_toml
from dualduty.units import unit
from plant.equilibrium import rates_at, standing
from plant.ride_height import settled
from plant.rows import LOAD, TRAVEL
from plant.vehicle import Vehicle
from plant.zone_file import read_payloads, read_zones

Array = NDArray[np.float64]
Numbers = dict[str, float | Array]

LOAD_TOLERANCE: Final = 0.04  # of a wheel's load: what spring perches and scales leave on the diagonals, common practice
TRAVEL_TOLERANCE: Final = 0.004  # m at the shaft: friction holds a car a few millimetres off its balance, common practice
_OF_SHEETS: Final = (
    "friction", "gas_force", "gas_rate", "compression_crosstalk", "rebound_crosstalk", "oil_reference", "compression_scale", "rebound_scale"
)  # fmt: skip


def read_vehicle_file(path: Path) -> Vehicle:
    """Read a vehicle type or one vehicle of a type; SeveralBadInputs lists every problem with its key."""
    return _one(path) if "type" in read_toml(path) else _type(path)


def _type(path: Path) -> Vehicle:
    document = read_document(path)
    problems: list[BadInput] = []
    car = car_of(document, path, problems)
    numbers: Any = read_numbers(Vehicle, document["plant"], f"{path}: plant", problems)
    zones = optional_table(document, "zones", path, problems)
    read = read_zones(zones, f"{path}: zones", problems)
    payloads = read_payloads(document.get("payload", []), f"{path}: payload", problems, car.front_arm if car else 0.0)
    raise_all(problems)
    assert car is not None  # noqa: S101 - no car without a problem
    return Vehicle(car=car, zones=read, payloads=payloads, **numbers)


def _one(path: Path) -> Vehicle:
    """One vehicle: its type, then what was measured, then its dampers, then what a fit found."""
    this = read_this(path)
    base = read_vehicle_file(this.type_file)
    problems: list[BadInput] = []
    declared = {**declarations(Car), **declarations(Vehicle)}
    problems += _strangers(this, declared)
    measured = this.numbers(declared, problems)
    fit = given_numbers(declared, this.fit, f"{this.file}: fit", problems, some_corners=True)
    sheets = _sheets(this, problems)
    offsets = _offsets(this, problems)
    _check_clash(this, measured, sheets, problems)
    raise_all(problems)
    told = {name: measured.pop(name) for name in ("static_travel", "static_wheel_load") if name in measured}
    car, left = this_car(this, base.car, measured, problems)
    car = dataclasses.replace(car, static_wheel_load=base.car.static_wheel_load)
    vehicle = dataclasses.replace(base, car=car, stamp=this.stamp, sensor_offset=offsets)
    if not np.isnan(left):
        vehicle = vehicle.overlay(cg_left=left)
    vehicle = _laid_over(vehicle, {name: said for name, said in measured.items() if name in declarations(Vehicle)})
    vehicle = _laid_over(_with_sheets(vehicle, sheets), fit)
    _check_stance(this, vehicle, measured | told, problems)
    raise_all(problems)
    return settled(vehicle)


def _strangers(this: ThisVehicle, declared: Mapping[str, Declaration]) -> list[BadInput]:
    """Keys of [measured] that stand for nothing, with what may have been meant."""
    problems: list[BadInput] = []
    strange = {key: said for key, said in this.measured.items() if not belongs(key, {**declared, **declarations(OnScales)})}
    given_numbers(declared, strange, f"{this.file}: measured", problems)
    return problems


def _laid_over(vehicle: Vehicle, numbers: Mapping[str, float | Array]) -> Vehicle:
    owner = {name: vehicle.car if name in declarations(Car) else vehicle for name in numbers}
    return vehicle.overlay(**{name: laid_over(getattr(owner[name], name), over) for name, over in numbers.items()})


def _sheets(this: ThisVehicle, problems: list[BadInput]) -> dict[int, Sheet]:
    """The dyno sheets by corner, each of this vehicle and of the corner it is named for."""
    found = {}
    for corner, path in this.dampers.items():
        try:
            sheet = read_sheet(path)
        except SeveralBadInputs as several:
            problems += several.problems
            continue
        except BadInput as problem:
            problems.append(problem)
            continue
        place = f"{this.file}: dampers.{corner}"
        if sheet.corner != corner:
            problems.append(BadInput(place, f"the sheet of {sheet.serial} is of a damper at {sheet.corner} ({path.name})"))
        if sheet.vehicle != this.name:
            problems.append(BadInput(place, f"the sheet of {sheet.serial} is of {sheet.vehicle!r}, expected {this.name!r} ({path.name})"))
        found[CORNERS.index(corner)] = sheet
    return found


def _check_clash(this: ThisVehicle, measured: Numbers, sheets: Mapping[int, Sheet], problems: list[BadInput]) -> None:
    """A number that a sheet gives can't be measured in another way too."""
    for name in _OF_SHEETS:
        if name not in measured:
            continue
        given = np.broadcast_to(np.asarray(measured[name], float), 4)
        twice = [CORNER_LABELS[corner] for corner in sheets if not np.isnan(given[corner])]
        if twice:
            problems.append(
                BadInput(f"{this.file}: measured.{name}", f"comes from the dyno sheet at {', '.join(twice)}; expected one of them")
            )


def _with_sheets(vehicle: Vehicle, sheets: Mapping[int, Sheet]) -> Vehicle:
    """The vehicle with its own dampers: maps, friction, gas, crosstalk and the oil temperature they were measured at."""
    if not sheets:
        return vehicle
    own = {
        side: tuple(sheets[corner].maps[side] if corner in sheets else vehicle.damper_map(side, corner) for corner in range(4))
        for side in SIDES
    }
    numbers = {name: np.full(4, np.nan) for name in _OF_SHEETS}
    for corner, sheet in sheets.items():
        for name in ("friction", "gas_force", "gas_rate"):
            numbers[name][corner] = getattr(sheet, name)
        for side in SIDES:
            numbers[f"{side}_crosstalk"][corner] = sheet.crosstalk[side]
            numbers[f"{side}_scale"][corner] = 1.0
        numbers["oil_reference"][corner] = sheet.facts.oil_temperature
    return dataclasses.replace(_laid_over(vehicle, numbers), own_maps=own)


def _offsets(this: ThisVehicle, problems: list[BadInput]) -> dict[str, float | Array]:
    """Fixed sensor offsets by channel, in SI."""
    declared = {
        name: Declaration(name, unit_si(name), signal.said, -np.inf, np.inf, f"offset of {name}", 0.0, by_corner=signal.corners > 1)
        for name, signal in SIGNALS.items()
        if signal.seen
    }
    found = given_numbers(declared, this.sensor_offset, f"{this.file}: sensor_offset", problems, some_corners=True)
    return {name: np.nan_to_num(offset) if isinstance(offset, np.ndarray) else offset for name, offset in found.items()}


def unit_si(name: str) -> str:
    """SI unit of a signal."""
    return unit(SIGNALS[name].unit).label


def _check_stance(this: ThisVehicle, vehicle: Vehicle, measured: Numbers, problems: list[BadInput]) -> None:
    """Does it stand as it was measured to stand? Springs, masses and scales are measured apart and must agree."""
    report = rates_at(vehicle, standing(vehicle)[None])[1][0]
    load, travel = report[LOAD : LOAD + 4], report[TRAVEL : TRAVEL + 4]
    checks = (
        (WEIGHT, load, LOAD_TOLERANCE * load, 1.0, "N", f"{LOAD_TOLERANCE:.0%}"),
        ("static_wheel_load", load, LOAD_TOLERANCE * load, 1.0, "N", f"{LOAD_TOLERANCE:.0%}"),
        ("static_travel", travel, np.full(4, TRAVEL_TOLERANCE), 1e3, "mm", f"{1e3 * TRAVEL_TOLERANCE:g} mm"),
    )
    for name, stands, tolerance, factor, said, words in checks:
        off = np.abs(np.asarray(measured.get(name, np.nan)) - stands)
        for corner in np.flatnonzero(off > tolerance):
            put = float(np.broadcast_to(np.asarray(measured[name], float), 4)[corner])
            found = (
                f"{factor * put:.4g} {said} at {CORNER_LABELS[corner]}; springs and masses make it stand at {factor * stands[corner]:.4g}"
            )
            problems.append(BadInput(f"{this.file}: measured.{name}", f"{found} {said}, more than {words} apart"))
