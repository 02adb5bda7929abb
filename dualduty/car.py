"""The car as strategy and scoring may know it: nominal numbers and the nominal damper maps, nothing of the plant's truth.

A vehicle file describes a vehicle type, or one vehicle of a type: see `dualduty.this_vehicle`.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.damper_map import DamperMap, read_damper_map
from dualduty.errors import BadInput, SeveralBadInputs
from dualduty.number_table import read_numbers
from dualduty.parameters import param
from dualduty.toml_file import read_toml

Array = NDArray[np.float64]

MAPS: Final = ("front_compression", "front_rebound", "rear_compression", "rear_rebound")
TABLES: Final = ("name", "provenance", "car", "maps", "plant", "zones", "payload")


@dataclass(frozen=True, eq=False)
class Car:
    """Nominal numbers of a vehicle, in SI; (4,) arrays by corner.

    Shaft travel counts from full extension. `hang_travel` is where the shaft rests in flight, a measured value: neither
    the droop stop nor the hang on a lift. `hard_stop` is the travel at which the bump rubber is nearly spent.
    """

    name: str
    front_compression: DamperMap
    front_rebound: DamperMap
    rear_compression: DamperMap
    rear_rebound: DamperMap
    wheelbase: float = param(2.4, "m", 1.0, 5.0, "distance between the axles")
    front_arm: float = param(1.3, "m", 0.1, 4.0, "centre of gravity of the sprung mass to the front axle")
    half_track: Array = param(0.75, "m", 0.3, 1.5, "middle of the car to the middle of the tyre", by_corner=True)
    motion_ratio: Array = param(0.62, "1", 0.2, 1.2, "shaft travel per wheel travel at ride height", by_corner=True)
    sprung_mass: float = param(800.0, "kg", 50.0, 10000.0, "sprung mass, laden")
    roll_inertia: float = param(320.0, "kg·m²", 10.0, 20000.0, "roll inertia of the sprung mass")
    pitch_inertia: float = param(900.0, "kg·m²", 10.0, 50000.0, "pitch inertia of the sprung mass")
    unsprung_mass: Array = param(38.0, "kg", 5.0, 300.0, "unsprung mass", by_corner=True)
    static_travel: Array = param(0.1, "m", 0.0, 0.8, "shaft travel standing at ride height", said="mm", by_corner=True)
    hang_travel: Array = param(0.01, "m", -0.02, 0.4, "shaft travel hanging free in flight", said="mm", by_corner=True)
    stroke: Array = param(0.28, "m", 0.03, 1.0, "shaft travel from full extension to metal", said="mm", by_corner=True)
    bump_contact: Array = param(0.22, "m", 0.01, 1.0, "shaft travel at which the bump stop is touched", said="mm", by_corner=True)
    hard_stop: Array = param(0.27, "m", 0.02, 1.0, "shaft travel at which the bump rubber is nearly spent", said="mm", by_corner=True)
    static_wheel_load: Array = param(2300.0, "N", 100.0, 50000.0, "wheel load standing at ride height", by_corner=True)
    tyre_radius: float = param(0.36, "m", 0.1, 1.0, "unloaded tyre radius", said="mm")
    required = (
        "wheelbase", "front_arm", "half_track", "motion_ratio", "sprung_mass", "roll_inertia", "pitch_inertia", "unsprung_mass",
        "static_travel", "hang_travel", "stroke", "bump_contact", "hard_stop", "static_wheel_load", "tyre_radius",
    )  # fmt: skip

    @property
    def rear_arm(self) -> float:
        """Centre of gravity of the sprung mass to the rear axle. [m]"""
        return self.wheelbase - self.front_arm

    @property
    def arm(self) -> Array:
        """Corner positions ahead of the centre of gravity, (4,). [m]"""
        return np.array([self.front_arm, self.front_arm, -self.rear_arm, -self.rear_arm])

    @property
    def side(self) -> Array:
        """Corner positions left of the middle, (4,). [m]"""
        return np.multiply(self.half_track, [1.0, -1.0, 1.0, -1.0])

    def damper_map(self, side: str, corner: int) -> DamperMap:
        """Nominal map of one side ("compression" or "rebound") at a corner."""
        return getattr(self, f"{'front' if corner < 2 else 'rear'}_{side}")  # type: ignore[no-any-return]  # noqa: PLR2004 - two front corners


def read_document(path: Path) -> dict[str, Any]:
    """The file of a vehicle type as a plain document, with its top level checked."""
    document = read_toml(path)
    problems = [BadInput(f"{path}: {key}", f"unknown; expected {', '.join(TABLES)}") for key in document if key not in TABLES]
    texts = [key for key in ("name", "provenance") if not isinstance(document.get(key), str) or not document[key].strip()]
    problems += [BadInput(f"{path}: {key}", f"expected a text, came {document.get(key)!r}") for key in texts]
    tables = [key for key in ("car", "maps", "plant") if not isinstance(document.get(key), dict)]
    problems += [BadInput(f"{path}: {key}", f"expected a table [{key}], came {document.get(key)!r}") for key in tables]
    raise_all(problems)
    return document


def read_car(path: Path) -> Car:
    """Read the nominal part of a file of either kind; SeveralBadInputs lists every problem with its key."""
    if "type" in read_toml(path):
        from dualduty.this_vehicle import read_this_car  # it lays its numbers over a Car

        return read_this_car(path)
    document = read_document(path)
    problems: list[BadInput] = []
    car = car_of(document, path, problems)
    raise_all(problems)
    assert car is not None  # noqa: S101 - no car without a problem
    return car


def car_of(document: dict[str, Any], path: Path, problems: list[BadInput]) -> Car | None:
    """The car of a document, or None where `problems` got new entries."""
    before = len(problems)
    numbers: Any = read_numbers(Car, document["car"], f"{path}: car", problems)
    maps: Any = _maps(document["maps"], path, problems)
    if len(problems) > before:
        return None
    car = Car(name=document["name"], **maps, **numbers)
    problems += misfits(car, f"{path}: car")
    return car if len(problems) == before else None


def _maps(table: dict[str, Any], path: Path, problems: list[BadInput]) -> dict[str, DamperMap]:
    problems += [BadInput(f"{path}: maps.{key}", f"unknown; expected {', '.join(MAPS)}") for key in table if key not in MAPS]
    found = {}
    for key in MAPS:
        if not isinstance(table.get(key), str):
            problems.append(BadInput(f"{path}: maps.{key}", f"expected the name of a CSV file beside it, came {table.get(key)!r}"))
            continue
        try:
            found[key] = read_damper_map(path.parent / table[key])
        except BadInput as problem:
            problems.append(problem)
    return found


def misfits(car: Car, place: str) -> list[BadInput]:
    """Numbers of a car that contradict each other."""
    found = []
    if car.front_arm >= car.wheelbase:
        found.append(BadInput(f"{place}.front_arm", f"{car.front_arm:g} m; expected less than the wheelbase, {car.wheelbase:g} m"))
    order = ("hang_travel", "static_travel", "bump_contact", "hard_stop", "stroke")
    for low, high in pairwise(order):
        if (getattr(car, low) >= getattr(car, high)).any():
            found.append(BadInput(f"{place}.{low}", f"expected less than {high} at every corner"))
    return found


def raise_all(problems: list[BadInput]) -> None:
    """Raise what was found, if anything."""
    if len(problems) == 1:
        raise problems[0]
    if problems:
        raise SeveralBadInputs(problems)
