"""One vehicle of a type: what was measured on it, laid over the numbers of its type.

type = "marram.toml"                                # the type's file, beside this one
name = "marram_2"
provenance = "..."

[measured]                                          # keys of [car] and [plant]; corners left out stay as the type's
corner_weight_n = { front_left = 2092, ... }        # scales; also place the centre of gravity
hang_travel_mm = { front = -0.4, rear = -0.4 }      # in flight

[dampers]                                           # dyno sheets by corner
front_left = "../dyno/marram_2/MD-2201.csv"

[sensor_offset]                                     # by channel, one number or by corner
shaft_travel_mm = { front_left = 0.8, ... }

[fit]                                               # numbers found by comparing runs, and how far they hold
stamp = "fitted"
"""

from __future__ import annotations

import dataclasses
import difflib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.car import Car, misfits, raise_all, read_car
from dualduty.errors import BadInput
from dualduty.number_table import belongs, given_numbers, laid_over
from dualduty.parameters import Declaration, declarations, param
from dualduty.signals import CORNERS
from dualduty.toml_file import read_toml
from dualduty.units import STANDARD_GRAVITY

Array = NDArray[np.float64]

TABLES: Final = ("type", "name", "provenance", "measured", "dampers", "sensor_offset", "fit")
WEIGHT: Final = "corner_weight"
MASS_TOLERANCE: Final = 0.01  # of the whole mass: four wheel scales of 0.5 % each, and fuel, common practice
TEXTS_OF_FIT: Final = ("stamp", "note", "provenance")


@dataclass(frozen=True)
class OnScales:
    """What only scales give."""

    corner_weight: Array = param(2300.0, "N", 100.0, 50000.0, "weight on the scale under a wheel, standing level", by_corner=True)


@dataclass(frozen=True)
class ThisVehicle:
    """A this-vehicle file as read: numbers are not looked at yet, paths are resolved against its folder."""

    file: Path
    type_file: Path
    name: str
    provenance: str
    measured: dict[str, Any]
    dampers: dict[str, Path]
    sensor_offset: dict[str, Any]
    fit: dict[str, Any]
    stamp: str

    def numbers(self, declared: Mapping[str, Declaration], problems: list[BadInput]) -> dict[str, float | Array]:
        """What [measured] gives of some declared numbers and of the scales, NaN at corners it says nothing of."""
        everything = {**declared, **declarations(OnScales)}
        table = {key: said for key, said in self.measured.items() if belongs(key, everything)}
        return given_numbers(everything, table, f"{self.file}: measured", problems, some_corners=True)


def read_this(path: Path) -> ThisVehicle:
    """A this-vehicle file with its top level checked."""
    document = read_toml(path)
    problems = [_unknown(f"{path}: {key}", key, TABLES) for key in document if key not in TABLES]
    texts = [key for key in ("type", "name", "provenance") if not isinstance(document.get(key), str) or not document[key].strip()]
    problems += [BadInput(f"{path}: {key}", f"expected a text, came {document.get(key)!r}") for key in texts]
    tables = [key for key in ("measured", "dampers", "sensor_offset", "fit") if not isinstance(document.setdefault(key, {}), dict)]
    problems += [BadInput(f"{path}: {key}", f"expected a table [{key}], came {document[key]!r}") for key in tables]
    raise_all(problems)
    stamp = _stamp(document["fit"], path, problems)
    dampers = _dampers(document["dampers"], path, problems)
    raise_all(problems)
    fit = {key: said for key, said in document["fit"].items() if key not in TEXTS_OF_FIT}
    return ThisVehicle(
        path, _type_file(path, document["type"]), document["name"], document["provenance"], document["measured"], dampers,
        document["sensor_offset"], fit, stamp,
    )  # fmt: skip


def _unknown(place: str, key: str, known: tuple[str, ...]) -> BadInput:
    near = difflib.get_close_matches(key, known, n=1)
    return BadInput(place, f"unknown; did you mean {near[0]!r}?" if near else f"unknown; expected {', '.join(known)}")


def _type_file(path: Path, said: str) -> Path:
    found = path.parent / said
    if "type" in read_toml(found):
        raise BadInput(f"{path}: type", f"expected the file of a vehicle type, {said!r} is itself one vehicle of a type")
    return found


def _stamp(fit: dict[str, Any], path: Path, problems: list[BadInput]) -> str:
    wrong = [key for key in TEXTS_OF_FIT if key in fit and not isinstance(fit[key], str)]
    problems += [BadInput(f"{path}: fit.{key}", f"expected a text, came {fit[key]!r}") for key in wrong]
    if fit and "stamp" not in fit:
        problems.append(BadInput(f"{path}: fit.stamp", "is missing: how far was this plant compared with the vehicle?"))
    return str(fit.get("stamp") or "not compared")


def _dampers(table: dict[str, Any], path: Path, problems: list[BadInput]) -> dict[str, Path]:
    found = {}
    for corner, said in table.items():
        if corner not in CORNERS:
            problems.append(_unknown(f"{path}: dampers.{corner}", corner, CORNERS))
        elif not isinstance(said, str) or not (path.parent / said).is_file():
            problems.append(BadInput(f"{path}: dampers.{corner}", f"expected a dyno sheet (*.csv), found no file {said!r}"))
        else:
            found[corner] = path.parent / said
    return found


def read_this_car(path: Path) -> Car:
    """The nominal numbers of one vehicle: its type's, with what was measured laid over; maps stay the type's."""
    this = read_this(path)
    problems: list[BadInput] = []
    base = read_car(this.type_file)
    measured = this.numbers(declarations(Car), problems)
    raise_all(problems)
    return this_car(this, base, measured, problems)[0]


def this_car(this: ThisVehicle, base: Car, measured: Mapping[str, float | Array], problems: list[BadInput]) -> tuple[Car, float]:
    """The car with its measured numbers, and how far left of the middle the scales put its centre of gravity, NaN without."""
    numbers = {name: laid_over(getattr(base, name), over) for name, over in measured.items() if name in declarations(Car)}
    car = dataclasses.replace(base, name=this.name, **numbers)  # type: ignore[arg-type]
    left = np.nan
    if WEIGHT in measured:
        car, left = _on_scales(this, car, measured, problems)
    problems += misfits(car, f"{this.file}: measured")
    raise_all(problems)
    return car, left


def _on_scales(this: ThisVehicle, car: Car, measured: Mapping[str, float | Array], problems: list[BadInput]) -> tuple[Car, float]:
    """Masses, centre of gravity and wheel loads from the scales; a sprung mass given beside them must agree."""
    place = f"{this.file}: measured.{WEIGHT}_n"
    weights = np.asarray(measured[WEIGHT])
    if np.isnan(weights).any():
        problems.append(BadInput(place, "expected a weight for every corner"))
        raise_all(problems)
    total = float(weights.sum()) / STANDARD_GRAVITY
    if "sprung_mass" in measured:
        told = car.sprung_mass + float(car.unsprung_mass.sum())
        if abs(told / total - 1.0) > MASS_TOLERANCE:
            words = f"the scales show {total:.1f} kg; sprung and unsprung mass are {told:.1f} kg, more than {MASS_TOLERANCE:.0%} apart"
            problems.append(BadInput(place, words))
    else:
        car = dataclasses.replace(car, sprung_mass=total - float(car.unsprung_mass.sum()))
    front, left = centre_of_gravity(car, weights)
    return dataclasses.replace(car, front_arm=front, static_wheel_load=weights), left


def centre_of_gravity(car: Car, weights: Array) -> tuple[float, float]:
    """How far the sprung mass's centre of gravity lies behind the front axle and left of the middle, by levers. [m]

    weights : (4,) array
        On scales under the wheels, standing level; the unsprung masses stand over their own scales. [N]
    """
    sprung = weights - car.unsprung_mass * STANDARD_GRAVITY
    left = float((sprung * np.multiply(car.half_track, [1.0, -1.0, 1.0, -1.0])).sum() / sprung.sum())
    return car.wheelbase * float(sprung[2:].sum() / sprung.sum()), left
