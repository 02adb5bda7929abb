"""Calibratable parameters, declared once on the plug-in: default, unit, range and meaning.

Range errors, calibration files, sweeps, the documentation and the exported table all read these declarations.
A declared value is SI inside; `said` is the unit in which people write and read it.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.lookup import Curve, Surface
from dualduty.units import unit as unit_of

_KEY: Final = "declaration"
_ROUNDING: Final = 1e-12


@dataclass(frozen=True)
class Axis:
    """A breakpoint axis of a curve or surface."""

    name: str
    unit: str
    said: str


@dataclass(frozen=True)
class Declaration:
    """What one calibratable parameter means.

    `axes` is empty for a number, one axis for a curve, two for a surface. `by_corner` says whether the value may
    differ between corners. `from_car` names the `Car` field that fills it when the calibration is silent.
    """

    name: str
    unit: str
    said: str
    low: float
    high: float
    meaning: str
    default: Any
    by_corner: bool = False
    from_car: str = ""
    axes: tuple[Axis, ...] = ()

    def outside(self, values: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Where values leave the declared range or are no numbers; a limit said in another unit may round beyond itself."""
        slack = _ROUNDING * max(abs(self.low), abs(self.high)) if np.isfinite(self.high) else 0.0
        return ~((values >= self.low - slack) & (values <= self.high + slack))


def param(  # noqa: PLR0913 - a declaration reads as one line where it stands
    default: float, unit: str, low: float, high: float, meaning: str, *, said: str = "", by_corner: bool = False, from_car: str = ""
) -> Any:
    """Declare a number, in SI: `full_speed: float = param(0.8, "m/s", 0.1, 3.0, "body speed at full duty")`."""
    made = Declaration("", unit, said or unit, low, high, meaning, default, by_corner, from_car)
    return _declared(made, default)


def curve(  # noqa: PLR0913 - as above
    axis: Axis, points: Sequence[float], values: Sequence[float], unit: str, low: float, high: float, meaning: str, *,
    said: str = "", by_corner: bool = False,
) -> Any:  # fmt: skip
    """Declare a look-up curve over `axis`, held at its ends; call the field with an array to look up."""
    default = Curve(np.asarray(points, float), np.asarray(values, float))
    return _declared(Declaration("", unit, said or unit, low, high, meaning, default, by_corner, "", (axis,)), default)


def surface(  # noqa: PLR0913 - as above
    axes: tuple[Axis, Axis], points: tuple[Sequence[float], Sequence[float]], values: Sequence[Sequence[float]], unit: str,
    low: float, high: float, meaning: str, *, said: str = "", by_corner: bool = False,
) -> Any:  # fmt: skip
    """Declare a look-up surface over two axes (rows along the first), bilinear, held at its edges."""
    default = Surface(np.asarray(points[0], float), np.asarray(points[1], float), np.asarray(values, float))
    return _declared(Declaration("", unit, said or unit, low, high, meaning, default, by_corner, "", axes), default)


def _declared(declaration: Declaration, default: Any) -> Any:
    for label in (declaration.unit, declaration.said, *(text for axis in declaration.axes for text in (axis.unit, axis.said))):
        unit_of(label)  # a declaration with an unknown unit fails where it is written
    if unit_of(declaration.unit).dimension != unit_of(declaration.said).dimension:
        raise ValueError(f"{declaration.said!r} does not measure the same as {declaration.unit!r}")
    outside = [value for value in np.ravel(getattr(default, "values", default)) if not declaration.low <= value <= declaration.high]
    if outside:
        raise ValueError(f"default {outside[0]:g} is outside {declaration.low:g}..{declaration.high:g}")
    if isinstance(default, Curve | Surface):
        return field(default_factory=lambda: default, metadata={_KEY: declaration})
    return field(default=default, metadata={_KEY: declaration})


def declarations(plug_in: type) -> dict[str, Declaration]:
    """All declared parameters of a plug-in class, by name, in order of declaration."""
    found = {}
    for entry in dataclasses.fields(plug_in):
        if _KEY in entry.metadata:
            found[entry.name] = dataclasses.replace(entry.metadata[_KEY], name=entry.name)
    return found
