"""A vehicle with its hardware changed by an overlay, and every change in words."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.car import Car, misfits, raise_all
from dualduty.dyno.base_maps import BaseMap
from dualduty.dyno.request import Request
from dualduty.dyno.request_target import targets
from dualduty.number_table import laid_over
from dualduty.parameters import Declaration, declarations
from dualduty.signals import CORNER_LABELS, SIDES
from dualduty.units import from_si, unit
from plant.equilibrium import hanging
from plant.overlay_file import Overlay
from plant.payload import laden, payload_named
from plant.ride_height import settled
from plant.vehicle import Payload, Vehicle, Zone
from plant.zone_file import read_zones

Array = NDArray[np.float64]

# Common practice: a fifth of a tyre's stiffness is the carcass, the rest goes with the pressure; a softer tyre kneads more.
_CARCASS: Final = 0.2
_KNEADING: Final = -0.5  # power of the pressure that tyre damping goes with
_SAME_HANG: Final = 1e-4  # m


@dataclass(frozen=True, eq=False)
class Changed:
    """A vehicle after an overlay, and what that changed, a line each."""

    vehicle: Vehicle
    lines: tuple[str, ...]


def apply(overlay: Overlay, vehicle: Vehicle) -> Changed:
    """Lay an overlay over a vehicle; BadInput names the overlay's key where it doesn't fit this vehicle."""
    after = _with_pressure(_with_numbers(vehicle, overlay), vehicle, overlay)
    after, valving = _with_wishes(after, overlay)
    problems: list[Any] = misfits(after.car, f"{overlay.file}")
    zones = read_zones(overlay.zones, f"{overlay.file}: zones", problems, after.zones)
    raise_all(problems)
    after = settled(dataclasses.replace(after, zones=zones))
    lines = [*valving, *_zone_lines(overlay, vehicle, after)]
    if overlay.payload:
        payload = payload_named(after, overlay.payload, f"{overlay.file}: payload")
        after = laden(after, payload)
        lines.append(payload_line(payload))
    hang = hanging(after)
    if np.abs(hang - hanging(vehicle)).max() > _SAME_HANG:
        after = after.overlay(hang_travel=hang)
    return Changed(after, (*lines, *difference_lines(vehicle, after)))


def payload_line(payload: Payload) -> str:
    """A payload in words."""
    place = f"{1e3 * payload.behind:.0f} mm behind the front axle, {1e3 * payload.left:+.0f} mm left, {1e3 * payload.height:.0f} mm up"
    return f"payload {payload.name}: {payload.mass:g} kg, {place}"


def _get(vehicle: Vehicle, name: str) -> Any:
    return getattr(vehicle.car if name in declarations(Car) else vehicle, name)


def _with_numbers(vehicle: Vehicle, overlay: Overlay) -> Vehicle:
    numbers = {name: _get(vehicle, name) * (1.0 + np.nan_to_num(share)) for name, share in overlay.shares.items()}
    numbers |= {name: laid_over(_get(vehicle, name), value) for name, value in overlay.values.items()}
    return vehicle.overlay(**numbers)


def _with_pressure(after: Vehicle, before: Vehicle, overlay: Overlay) -> Vehicle:
    """Tyre rate and damping go with the pressure, unless the overlay says them too."""
    ratio = after.tyre_pressure / before.tyre_pressure
    along = {"tyre_rate": after.tyre_rate * (_CARCASS + (1.0 - _CARCASS) * ratio), "tyre_damping": after.tyre_damping * ratio**_KNEADING}
    said = {*overlay.values, *overlay.shares}
    return after.overlay(**{name: value for name, value in along.items() if name not in said})


def _with_wishes(vehicle: Vehicle, overlay: Overlay) -> tuple[Vehicle, list[str]]:
    """Own maps with the wishes worked in; each corner has a map of its own, so that one corner alone can be asked for."""
    if not overlay.wishes:
        return vehicle, []
    bases = [
        BaseMap(f"{side}", f"{CORNER_LABELS[corner]} {side}", side, (corner,), vehicle.damper_map(side, corner), vehicle.car.name)
        for side in SIDES
        for corner in range(4)
    ]
    request = Request(overlay.file, overlay.name, overlay.provenance, "", "", (), None, overlay.wishes, 0.0)
    found = targets(request, bases)
    own = {side: tuple(target.map for target in found if target.base.side == side) for side in SIDES}
    lines = [f"valving {wish.asked}" for wish in overlay.wishes] + [notice for target in found for notice in target.notices]
    return dataclasses.replace(vehicle, own_maps=own), lines


def _zone_lines(overlay: Overlay, before: Vehicle, after: Vehicle) -> list[str]:
    lines = []
    for key in overlay.zones:
        where, _, side = key.rpartition("_")
        corner = next(corner for corner, label in enumerate(CORNER_LABELS) if label.replace("-", "_").startswith(where))
        was, now = before.zone(side, corner), after.zone(side, corner)
        lines.append(f"zone {where.replace('_', '-')} {side}: {_zone_words(now)}, was {_zone_words(was)}")
    return lines


def _zone_words(zone: Zone | None) -> str:
    if zone is None:
        return "none"
    points = zip(zone.travels, zone.multipliers, strict=True)
    return ", ".join(f"{multiplier:g} at {1e3 * travel:.0f} mm" for travel, multiplier in points)


def difference_lines(before: Vehicle, after: Vehicle) -> list[str]:
    """Every declared number that differs, a line each, by axle where left and right are alike."""
    lines = []
    for kind in (Vehicle, Car):
        for name, declared in declarations(kind).items():
            pair = (np.atleast_1d(_get(before, name)).astype(float), np.atleast_1d(_get(after, name)).astype(float))
            if not np.allclose(*pair, rtol=1e-9, atol=0.0):
                lines.append(f"{name.replace('_', ' ')} {_corners(declared, *pair)}")
    return lines


def _corners(declared: Declaration, before: Array, after: Array) -> str:
    label = unit(declared.said).label
    mark = "" if label == "1" else f" {label}"

    def step(corner: int) -> str:
        return f"{from_si(before[corner], declared.said):.4g} to {from_si(after[corner], declared.said):.4g}{mark}"

    if before.size == 1:
        return step(0)
    told: dict[str, str] = {}
    for axle, (left, right) in (("front", (0, 1)), ("rear", (2, 3))):
        if step(left) == step(right):
            told[axle] = step(left)
        else:
            told |= {CORNER_LABELS[corner]: step(corner) for corner in (left, right)}
    moved = {place: said for place, said in told.items() if len(set(said.removesuffix(mark).split(" to "))) > 1}
    return ", ".join(f"{place} {said}" for place, said in moved.items()) or "moved by less than a digit shown"
