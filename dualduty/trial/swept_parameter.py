"""A parameter of a detector over a range of values, said as a calibration file says it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dualduty.calibration.fill import Filler
from dualduty.calibration.model import Calibration
from dualduty.calibration.settings import Settings, Value
from dualduty.discovery import Found, PlugIns
from dualduty.errors import BadInput
from dualduty.units import UNITS, split_key

Array = NDArray[np.float64]


@dataclass(frozen=True)
class SweptParameter:
    """`key` is as the file writes it, with its unit; `values` are in that unit, `factor` makes SI of them."""

    found: Found
    key: str
    name: str
    factor: float
    values: Array
    current: tuple[float, ...]  # by drive mode and corner, each value once

    @property
    def label(self) -> str:
        """`Airborne.sure_evidence_ms`."""
        return f"{self.found.name}.{self.key}"

    @property
    def place(self) -> str:
        """Where its settings stand in a calibration."""
        return f"{self.found.kind}s.{self.found.name}"

    @property
    def unit(self) -> str:
        """As it is printed, empty for a bare number."""
        token = split_key(self.key, self.name)
        return UNITS[token].label if token and token != "1" else ""

    def said(self, value: float) -> str:
        """A value with its unit."""
        return f"{value:.4g} {self.unit}".rstrip()


def swept_parameter(text: str, values: Array, calibration: Calibration, plug_ins: PlugIns) -> SweptParameter:
    """Read `DETECTOR.KEY`; BadInput with near names, units and ranges as for a calibration file.

    values : (value,) array
        In the unit of the key.
    """
    detector, dot, key = text.partition(".")
    if not dot or not key:
        raise BadInput(text, "expected DETECTOR.PARAMETER with the unit of its key in a calibration, as in Airborne.sure_evidence_ms")
    found = plug_ins.get(detector, text, ("detector", "estimator"))
    place = f"{found.kind}s.{found.name}"
    if place not in calibration.settings:
        raise BadInput(text, f"{calibration.name} does not use {found.name}: no layer depends on it")
    base = calibration.settings[place]
    filled = [_filled(base, key, float(value), (text, calibration)) for value in (values.min(), values.max())]
    name = next(name for name in base if filled[0][name] is not base[name])
    now = base[name]
    factor = UNITS[split_key(key, name) or "1"].factor
    return SweptParameter(found, key, name, factor, values, tuple(float(one) for one in np.unique(now.values) / factor))


def _filled(base: Settings, key: str, value: float, where: tuple[str, Calibration]) -> Settings:
    filler = Filler(where[0].partition(".")[0], where[1].modes)
    filled = filler.fill(base, {key: value}, "")
    if filler.problems:
        raise BadInput(where[0], filler.problems[0].problem)
    return filled


@dataclass(frozen=True)
class SweptValues:
    """Settings of every case by class, which places of the grid they have, and what had to move along.

    grid : (value,) or (value, second value) int array
        Case of each combination; -1 where two swept values contradict each other.
    """

    settings: dict[str, list[Settings]]
    grid: NDArray[np.int64]
    moved: tuple[str, ...]


def settings_of_cases(parameters: Sequence[SweptParameter], calibration: Calibration) -> SweptValues:
    """Settings for every combination of values; in all drive modes and at all corners alike.

    A parameter that must not lie beyond a swept one, as a switch-off level beyond its switch-on level, moves along where
    it would; where both are swept, that combination is left out.
    """
    shape = tuple(len(parameter.values) for parameter in parameters)
    grid = np.full(shape, -1, np.int64)
    settings: dict[str, list[Settings]] = {parameter.found.name: [] for parameter in parameters}
    moved: dict[str, None] = {}
    count = 0
    for place in np.ndindex(*shape):
        values = [
            (parameter, float(parameter.values[index]) * parameter.factor) for parameter, index in zip(parameters, place, strict=True)
        ]
        made = _settings(values, calibration, moved)
        if made is not None:
            grid[place] = count
            count += 1
            for name, one in made.items():
                settings[name].append(one)
    if not count:
        raise BadInput(" and ".join(one.label for one in parameters), "no combination of these values keeps its order")
    return SweptValues(settings, grid, tuple(moved))


def _settings(
    values: Sequence[tuple[SweptParameter, float]], calibration: Calibration, moved: dict[str, None]
) -> dict[str, Settings] | None:
    made: dict[str, Any] = {parameter.found.name: dict(calibration.settings[parameter.place]) for parameter, _ in values}
    for parameter, value in values:
        entry = made[parameter.found.name][parameter.name]
        made[parameter.found.name][parameter.name] = replace(entry, values=np.full_like(entry.values, value))
    for parameter, _ in values:
        fixed = {other.name for other, _ in values if other.found is parameter.found}
        if not _in_order(made[parameter.found.name], parameter, fixed, moved):
            return None
    return made


def _in_order(settings: dict[str, Value], parameter: SweptParameter, fixed: set[str], moved: dict[str, None]) -> bool:
    """Move what must stand in order with the swept parameters, to where they are; False where swept ones contradict each other."""
    pairs: Sequence[tuple[str, str]] = getattr(parameter.found.cls, "ordered", ())
    for low, high in (*pairs, *reversed(pairs)):
        if (settings[low].values <= settings[high].values).all():
            continue
        if low in fixed and high in fixed:
            return False
        mover, other = (high, low) if low in fixed else (low, high)
        pushed = np.maximum if mover == high else np.minimum
        values = pushed(settings[mover].values, settings[other].values)
        if settings[mover].declaration.outside(values).any():
            raise BadInput(parameter.label, f"{mover} would have to move along beyond its range; sweep a narrower range")
        settings[mover] = replace(settings[mover], values=values)
        fixed.add(mover)
        moved[mover] = None
    return True


def current_settings(parameters: Sequence[SweptParameter], calibration: Calibration) -> Mapping[str, Settings]:
    """Settings of the swept classes as the calibration has them."""
    return {parameter.found.name: calibration.settings[parameter.place] for parameter in parameters}
