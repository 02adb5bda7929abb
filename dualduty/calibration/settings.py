"""The values of one plug-in in one calibration, spread over drive modes and corners."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dualduty.calibration.origin import Origin
from dualduty.car import Car
from dualduty.lookup import Curve, Surface
from dualduty.parameters import Declaration

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Value:
    """One parameter: its declaration, breakpoints (none for a number), and values spread out.

    values : (*points, mode, 4) array
        In SI; equal along the last axis where the parameter may not differ by corner.
    origins : tuple of Origin, by drive mode
        Which file gave it; empty where no file did.
    """

    declaration: Declaration
    points: tuple[Array, ...]
    values: Array
    origins: tuple[Origin, ...] = ()

    def same_as(self, other: Value) -> bool:
        """Equal to the bit, breakpoints included."""
        alike = len(self.points) == len(other.points) and all(np.array_equal(a, b) for a, b in zip(self.points, other.points, strict=True))
        return alike and np.array_equal(self.values, other.values)


Settings = dict[str, Value]


def defaults(declared: dict[str, Declaration], modes: int, car: Car | None) -> Settings:
    """Values where the calibration is silent: the car's number where one is named, else the declared default."""
    return {name: _default(declaration, modes, car) for name, declaration in declared.items()}


def _default(declaration: Declaration, modes: int, car: Car | None) -> Value:
    default: Any = declaration.default
    if declaration.from_car and car is not None:
        default = getattr(car, declaration.from_car)
    points: tuple[Array, ...] = ()
    if isinstance(default, Curve):
        points, default = (default.points,), default.values
    elif isinstance(default, Surface):
        points, default = (default.x_points, default.y_points), default.values
    base = np.asarray(default, float)
    by_car_corner = bool(declaration.from_car) and base.ndim == 1
    spread = base if by_car_corner else base.reshape((*base.shape, 1, 1))
    shape = (*(len(p) for p in points), modes, 4)
    return Value(declaration, points, np.array(np.broadcast_to(spread, shape)))


def with_value(settings: Settings, name: str, values: Array) -> Settings:
    """A copy with one parameter's spread values replaced; for sweeps and tests."""
    before = settings[name]
    return {**settings, name: replace(before, values=np.array(np.broadcast_to(values, before.values.shape)))}
