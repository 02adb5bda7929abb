"""One vehicle in full: the nominal car, and what only the plant knows."""

from __future__ import annotations

import dataclasses
import difflib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dualduty.car import Car, car_of, raise_all, read_document
from dualduty.errors import BadInput
from dualduty.number_table import read_numbers
from dualduty.parameters import declarations, param

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Vehicle:
    """All numbers of the plant in SI; (4,) arrays by corner, of which axle quantities use one of each pair.

    A spring presses from `spring_contact` on: above 0 it goes slack before the shaft is fully extended, below 0 it is
    preloaded. `extended_drop` is how far the hub lies below the level of the centre of gravity at full extension.
    """

    car: Car
    yaw_inertia: float = param(1000.0, "kg·m²", 10.0, 50000.0, "yaw inertia of the whole vehicle")
    cg_height: float = param(0.6, "m", 0.0, 2.0, "height of the sprung mass's centre of gravity at ride height")
    extended_drop: Array = param(0.45, "m", 0.0, 2.0, "hub below the centre of gravity's level at full extension", by_corner=True)
    roll_centre: Array = param(0.15, "m", -0.5, 2.0, "roll-centre height of the axle", by_corner=True)
    seat_ahead: float = param(0.0, "m", -3.0, 3.0, "seat ahead of the centre of gravity")
    seat_left: float = param(0.0, "m", -1.5, 1.5, "seat left of the middle")
    motion_ratio_rise: Array = param(0.0, "1/m", -3.0, 3.0, "growth of the motion ratio per wheel travel", by_corner=True)
    spring_rate: Array = param(30e3, "N/m", 100.0, 1e6, "coil spring rate at the shaft", said="N/mm", by_corner=True)
    spring_contact: Array = param(0.0, "m", -1.0, 0.4, "shaft travel from which the spring presses", said="mm", by_corner=True)
    bar_rate: Array = param(0.0, "N/m", 0.0, 1e5, "anti-roll bar: force at each wheel per travel difference", by_corner=True)
    bump_rate: Array = param(45e3, "N/m", 0.0, 1e7, "bump stop rate at first touch, at the shaft", said="N/mm", by_corner=True)
    bump_doubling: Array = param(0.022, "m", 1e-3, 1.0, "crush at which a bump stop is twice its first rate", said="mm", by_corner=True)
    bump_loss: Array = param(0.0, "1", 0.0, 0.9, "bump stop: more force going in, less coming out", said="%", by_corner=True)
    droop_rate: Array = param(6e5, "N/m", 0.0, 1e7, "droop stop rate at the shaft", said="N/mm", by_corner=True)
    gas_force: Array = param(0.0, "N", 0.0, 5000.0, "gas force that extends the shaft, at full extension", by_corner=True)
    gas_rate: Array = param(0.0, "N/m", 0.0, 1e5, "growth of the gas force with shaft travel", by_corner=True)
    friction: Array = param(0.0, "N", 0.0, 2000.0, "friction at the shaft", by_corner=True)
    friction_speed: float = param(0.03, "m/s", 1e-3, 1.0, "shaft speed at which friction has reached 71 %")
    compression_scale: Array = param(1.0, "1", 0.0, 5.0, "this damper's compression force over its map", by_corner=True)
    rebound_scale: Array = param(1.0, "1", 0.0, 5.0, "this damper's rebound force over its map", by_corner=True)
    tyre_rate: Array = param(125e3, "N/m", 1e3, 1e7, "vertical tyre stiffness", said="N/mm", by_corner=True)
    tyre_damping: Array = param(0.0, "N·s/m", 0.0, 1e4, "vertical tyre damping", by_corner=True)
    grip: float = param(0.85, "1", 0.0, 2.0, "friction of the tyre at its static load")
    grip_fade: float = param(0.1, "1", 0.0, 0.5, "loss of friction per static load more")
    slip_scale: float = param(0.105, "rad", 0.01, 0.5, "slip angle that uses 71 % of the grip", said="deg")
    relaxation: float = param(0.35, "m", 0.02, 3.0, "relaxation length of the tyre's side force")
    rolling_resistance: float = param(0.02, "1", 0.0, 0.5, "rolling resistance over wheel load")
    valve_rise: float = param(0.009, "s", 1e-5, 0.5, "time constant of a rising duty", said="ms")
    valve_fall: float = param(0.014, "s", 1e-5, 0.5, "time constant of a falling duty", said="ms")
    drive_force: float = param(4200.0, "N", 0.0, 1e5, "driving force at full throttle")
    brake_force: float = param(8200.0, "N", 0.0, 1e5, "braking force at full brake")
    drive_front: float = param(0.35, "1", 0.0, 1.0, "front axle's share of the driving force", said="%")
    brake_front: float = param(0.55, "1", 0.0, 1.0, "front axle's share of the braking force", said="%")
    wheel_spin: float = param(9.0, "m/s", 0.0, 40.0, "overspeed of an unloaded wheel at full throttle")
    wheel_time: float = param(0.12, "s", 1e-3, 2.0, "time constant of wheel overspeed and slowing")
    speed_gain: float = param(1.8, "1/s", 0.0, 20.0, "driver: wanted acceleration per speed error")
    pedal_rate: float = param(6.0, "1/s", 0.1, 100.0, "driver: fastest pedal movement, full strokes per second")
    yaw_gain: float = param(0.15, "s", 0.0, 2.0, "driver: steer per yaw-rate error")
    steer_feed: float = param(0.0, "rad/(m/s²)", -0.1, 0.1, "driver: extra steer per wanted lateral acceleration")
    steer_limit: float = param(0.6, "rad", 0.01, 1.2, "largest road-wheel steer angle", said="deg")
    steer_rate: float = param(1.2, "rad/s", 0.05, 20.0, "fastest road-wheel steering", said="deg/s")
    preview: float = param(0.15, "s", 0.0, 2.0, "driver: how far ahead the path is read")
    required = ("yaw_inertia", "cg_height", "extended_drop", "spring_rate", "spring_contact", "tyre_rate")

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
    """Read a vehicle file in full; SeveralBadInputs lists every problem with its key."""
    document = read_document(path)
    problems: list[BadInput] = []
    car = car_of(document, path, problems)
    numbers: Any = read_numbers(Vehicle, document["plant"], f"{path}: plant", problems)
    raise_all(problems)
    assert car is not None  # noqa: S101 - no car without a problem
    return Vehicle(car=car, **numbers)
