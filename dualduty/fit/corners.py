"""Forces of the four corners from measured shaft travels and speeds: the plant's own formulas, for whole runs at once."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.fit.runs import RATE, Run
from plant.equilibrium import flat_course
from plant.packed import pack
from plant.vehicle import Vehicle, Zone

Array = NDArray[np.float64]

_NEWTON: Final = 6  # a nearly straight curve


def wheel_travel(vehicle: Vehicle, travel: Array) -> tuple[Array, Array]:
    """Wheel travel [m] and motion ratio [1] at (4, time) shaft travels, by Newton's method on `plant.spring.shaft_travel`."""
    start = pack([vehicle], [flat_course()], 1e-3, 2e-3).cases["extended_ratio"][0][:, None]
    rise, bend = vehicle.motion_ratio_rise[:, None], vehicle.motion_ratio_bend[:, None]
    wheel = travel / start
    for _ in range(_NEWTON):
        ratio = start + wheel * (rise + 0.5 * bend * wheel)
        wheel = wheel - (wheel * (start + wheel * (0.5 * rise + wheel * bend / 6.0)) - travel) / ratio
    return wheel, start + wheel * (rise + 0.5 * bend * wheel)


def springs(vehicle: Vehicle, travel: Array) -> tuple[Array, Array]:
    """Coil and gas force at (4, time) shaft travels. [N]"""
    part = {name: getattr(vehicle, name)[:, None] for name in (
        "spring_rate", "spring_contact", "spring_progression", "second_rate", "second_contact", "gas_force", "gas_rate")}  # fmt: skip
    pressed = np.maximum(travel - part["spring_contact"], 0.0)
    coil = pressed * (part["spring_rate"] + 0.5 * part["spring_progression"] * pressed)
    coil += part["second_rate"] * np.maximum(travel - part["second_contact"], 0.0)
    return coil, part["gas_force"] + part["gas_rate"] * travel


def friction(vehicle: Vehicle, speed: Array) -> Array:
    """Friction at (4, time) shaft speeds, smoothed through standstill. [N]"""
    return vehicle.friction[:, None] * speed / np.sqrt(speed * speed + vehicle.friction_speed**2)


def dampers(vehicle: Vehicle, travel: Array, speed: Array, reached: Mapping[str, Array]) -> dict[str, Array]:
    """Force of each side at (4, time) travels and speeds for the duties its valves have reached, 0 while the other side works. [N]"""
    other = {"compression": "rebound", "rebound": "compression"}
    out = {}
    for side, sign in (("compression", 1.0), ("rebound", -1.0)):
        forces = np.empty_like(speed)
        for corner in range(4):
            along = np.maximum(sign * speed[corner], 0.0)[None, :, None]
            base = vehicle.damper_map(side, corner).force(along, reached[side][corner][None, :, None])[0, :, 0]
            felt = 1.0 + getattr(vehicle, f"{side}_crosstalk")[corner] * reached[other[side]][corner]
            forces[corner] = sign * base * felt * _zone(vehicle.zone(side, corner), travel[corner])
        out[side] = forces * getattr(vehicle, f"{side}_scale")[:, None]
    return out


def _zone(zone: Zone | None, travel: Array) -> Array:
    return np.ones_like(travel) if zone is None else np.interp(travel, zone.travels, zone.multipliers)


def reached_duties(run: Run, rise: float, fall: float, delay: float) -> dict[str, Array]:
    """Duties the valves give, (4, time) by side: dead time, then a lag, exact since a log's duties are held between steps."""
    return {side: _followed(run.signals[f"applied_{side}"], rise, fall, delay) for side in ("compression", "rebound")}


def _followed(command: Array, rise: float, fall: float, delay: float) -> Array:
    out = np.empty_like(command)
    time = np.arange(command.shape[1]) / RATE
    for corner, row in enumerate(command):
        steps = np.flatnonzero(np.abs(np.diff(row)) > 1e-6) + 1  # noqa: PLR2004 - of duty
        now = row[0]
        out[corner] = now
        for place, step in enumerate(steps):
            until = time[steps[place + 1]] if place + 1 < len(steps) else np.inf
            arrived, left = time[step] + delay, until + delay
            lag = rise if row[step] > now else fall
            here = (time >= arrived) & (time < left)
            out[corner, here] = row[step] + (now - row[step]) * np.exp(-(time[here] - arrived) / lag)
            out[corner, time >= left] = row[step]
            now = row[step] + (now - row[step]) * np.exp(-min(left - arrived, 100.0 * lag) / lag)
    return out
