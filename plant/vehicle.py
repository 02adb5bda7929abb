"""One vehicle in full: the nominal car, and what only the plant knows."""

from __future__ import annotations

import dataclasses
import difflib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dualduty.car import Car
from dualduty.damper_map import DamperMap
from dualduty.errors import BadInput
from dualduty.parameters import declarations
from plant.parts import Body, Dampers, Driveline, Hands, Springs, Tyres, Valves

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Zone:
    """A bypass or a hydraulic stop: what a damper's force is multiplied with over its travel; held at the ends.

    travels, multipliers : (n,) arrays
        Rising shaft travels [m] and multipliers [1].
    """

    travels: Array
    multipliers: Array


@dataclass(frozen=True, kw_only=True)
class Payload:
    """A load that a vehicle may carry: mass [kg], behind the front axle, left of the middle, over ground [m]."""

    name: str
    mass: float
    behind: float
    left: float
    height: float


@dataclass(frozen=True, eq=False, kw_only=True)
class Vehicle(Body, Springs, Dampers, Valves, Tyres, Driveline, Hands):
    """All numbers of the plant: the nominal car and the parts, see `plant.parts`.

    `own_maps` are the maps of this vehicle's own dampers by side, one per corner; the car's where a side isn't given.
    `zones` are the position zones by side, one or none per corner. `stamp` says how far this plant has been compared
    with a vehicle. `payloads` are what it may carry, by name; `sensor_offset` what its sensors were measured to be off, by
    channel, one or (4,) numbers [SI].
    """

    car: Car
    own_maps: Mapping[str, tuple[DamperMap, ...]] = field(default_factory=dict)
    zones: Mapping[str, tuple[Zone | None, ...]] = field(default_factory=dict)
    stamp: str = "not compared"
    payloads: Mapping[str, Payload] = field(default_factory=dict)
    sensor_offset: Mapping[str, float | Array] = field(default_factory=dict)
    required = ("yaw_inertia", "cg_height", "extended_drop", "spring_rate", "spring_contact", "tyre_rate")

    def damper_map(self, side: str, corner: int) -> DamperMap:
        """Map of one side ("compression" or "rebound") at a corner, of this vehicle's own damper where it was measured."""
        return self.own_maps[side][corner] if side in self.own_maps else self.car.damper_map(side, corner)

    def zone(self, side: str, corner: int) -> Zone | None:
        """Position zone of one side at a corner, if there is one."""
        return self.zones[side][corner] if side in self.zones else None

    @property
    def side(self) -> Array:
        """Wheels left of the sprung mass's centre of gravity, (4,). [m]"""
        return self.car.side - self.cg_left

    @property
    def total_mass(self) -> float:
        """Sprung and unsprung mass. [kg]"""
        return self.car.sprung_mass + float(self.car.unsprung_mass.sum())

    def overlay(self, **numbers: Any) -> Vehicle:
        """The vehicle with some numbers changed, in SI; a single number holds for all corners."""
        in_car = {name: _spread(Car, name, number) for name, number in numbers.items() if name in _names(Car)}
        own = {name: _spread(Vehicle, name, number) for name, number in numbers.items() if name not in in_car}
        for name in own:
            if name not in _names(Vehicle):
                near = difflib.get_close_matches(name, [*_names(Car), *_names(Vehicle)], n=1)
                raise BadInput(f"{self.car.name}: {name}", "no such number" + (f"; did you mean {near[0]!r}?" if near else ""))
        return dataclasses.replace(self, car=dataclasses.replace(self.car, **in_car), **own)


def _names(kind: type) -> list[str]:
    return [entry.name for entry in dataclasses.fields(kind)]


def _spread(kind: type, name: str, number: Any) -> Any:
    declared = declarations(kind).get(name)
    return np.broadcast_to(np.asarray(number, float), 4).copy() if declared is not None and declared.by_corner else number


def read_vehicle(path: Path) -> Vehicle:
    """Read a vehicle file of either kind in full; SeveralBadInputs lists every problem with its key."""
    from plant.vehicle_file import read_vehicle_file  # it makes vehicles of files, and needs this module to do so

    return read_vehicle_file(path)
