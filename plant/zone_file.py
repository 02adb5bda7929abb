"""Position zones and payloads of a vehicle file, read."""

from __future__ import annotations

import difflib
import math
from collections.abc import Mapping
from typing import Any, Final

import numpy as np

from dualduty.errors import BadInput
from dualduty.signals import CORNERS, SIDES
from plant.vehicle import Payload, Zone

_PLACES: Final = {"front": (0, 1), "rear": (2, 3), **{corner: (place,) for place, corner in enumerate(CORNERS)}}
_ZONE_KEYS: Final = ("travel_mm", "multiplier")
_MOST: Final = 10.0  # a zone that makes a damper more than ten times as firm is a stop, not a zone
_PAYLOAD: Final = {"mass_kg": (0.0, 5000.0), "ahead_m": (-4.0, 4.0), "left_m": (-2.0, 2.0), "height_m": (0.0, 4.0)}


def read_zones(
    table: Mapping[str, Any], place: str, problems: list[BadInput], below: Mapping[str, tuple[Zone | None, ...]] | None = None
) -> dict[str, tuple[Zone | None, ...]]:
    """Zones by side from keys such as `rear_compression` or `rear_left_rebound`, corners over axles, all over those `below`."""
    zones: dict[str, list[Zone | None]] = {side: list((below or {}).get(side, (None,) * 4)) for side in SIDES}
    known = [f"{where}_{side}" for where in _PLACES for side in SIDES]
    for key in table:
        if key not in known:
            near = difflib.get_close_matches(key, known, n=1)
            problems.append(
                BadInput(f"{place}.{key}", f"unknown; did you mean {near[0]!r}?" if near else "unknown; expected rear_compression")
            )
    for key in (key for key in known if key in table):  # axles first, then corners
        where, _, side = key.rpartition("_")
        zone = _zone(table[key], f"{place}.{key}", problems)
        for corner in _PLACES[where]:
            zones[side][corner] = zone
    return {side: tuple(found) for side, found in zones.items() if any(zone is not None for zone in found)}


def _zone(said: Any, place: str, problems: list[BadInput]) -> Zone | None:
    if not isinstance(said, dict) or set(said) != set(_ZONE_KEYS):
        problems.append(BadInput(place, "expected { travel_mm = [0, 180, 240], multiplier = [1, 1, 1.6] }"))
        return None
    lists = [said[key] for key in _ZONE_KEYS]
    if not all(isinstance(one, list) and one and all(_is_number(value) for value in one) for one in lists) or len(lists[0]) != len(
        lists[1]
    ):
        problems.append(BadInput(place, "expected as many multipliers as travels, all numbers"))
        return None
    travels, multipliers = (np.array(one, float) for one in lists)
    if (np.diff(travels) <= 0.0).any():
        problems.append(BadInput(f"{place}.travel_mm", f"expected travels that rise, came {said['travel_mm']}"))
    if not ((multipliers >= 0.0) & (multipliers <= _MOST)).all():
        problems.append(BadInput(f"{place}.multiplier", f"expected multipliers between 0 and {_MOST:g}, came {said['multiplier']}"))
    return Zone(1e-3 * travels, multipliers)


def read_payloads(tables: Any, place: str, problems: list[BadInput], front_arm: float) -> dict[str, Payload]:
    """Payloads by name; the file places them ahead of the type's centre of gravity, `front_arm` behind its front axle. [m]"""
    found: dict[str, Payload] = {}
    if not isinstance(tables, list) or not all(isinstance(table, dict) for table in tables):
        problems.append(BadInput(place, "expected [[payload]] with name, mass_kg, ahead_m, left_m, height_m"))
        return found
    for number, table in enumerate(tables, 1):
        payload = _payload(table, f"{place}[{number}]", problems, front_arm)
        if payload is not None and payload.name in found:
            problems.append(BadInput(f"{place}[{number}].name", f"{payload.name!r} is taken"))
        elif payload is not None:
            found[payload.name] = payload
    return found


def _payload(table: Mapping[str, Any], place: str, problems: list[BadInput], front_arm: float) -> Payload | None:
    before = len(problems)
    problems += [
        BadInput(f"{place}.{key}", f"unknown; expected name, {', '.join(_PAYLOAD)}") for key in table if key not in ("name", *_PAYLOAD)
    ]
    if not isinstance(table.get("name"), str) or not table["name"].strip():
        problems.append(BadInput(f"{place}.name", f"expected a text, came {table.get('name')!r}"))
    for key, (low, high) in _PAYLOAD.items():
        if not _is_number(table.get(key)) or not low <= table[key] <= high:
            problems.append(BadInput(f"{place}.{key}", f"expected a number from {low:g} to {high:g}, came {table.get(key)!r}"))
    if len(problems) > before:
        return None
    mass, ahead, left, height = (float(table[key]) for key in _PAYLOAD)
    return Payload(name=table["name"], mass=mass, behind=front_arm - ahead, left=left, height=height)


def _is_number(value: Any) -> bool:
    return not isinstance(value, bool) and isinstance(value, int | float) and math.isfinite(value)
