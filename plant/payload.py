"""A vehicle with a load: mass, centre of gravity, inertia and ride height as they become, springs and links as they are."""

from __future__ import annotations

import difflib

import numpy as np

from dualduty.errors import BadInput
from plant.ride_height import settled
from plant.vehicle import Payload, Vehicle


def laden(vehicle: Vehicle, payload: Payload) -> Vehicle:
    """The vehicle carrying a payload, which is a point mass fixed to the body.

    Inertias about the new centre of gravity: those of body and point, each about its own, and of the pair turning about
    the common one, reduced mass times distance squared (parallel axes). The seat stays where it is in the body.
    """
    sprung = vehicle.car.sprung_mass
    share = payload.mass / (sprung + payload.mass)
    off = np.array([vehicle.car.front_arm - payload.behind, payload.left - vehicle.cg_left, payload.height - vehicle.cg_height])
    square = share * sprung * off**2
    moved = share * off
    return settled(
        vehicle.overlay(
            sprung_mass=sprung + payload.mass,
            front_arm=vehicle.car.front_arm - moved[0],
            cg_left=vehicle.cg_left + moved[1],
            cg_height=vehicle.cg_height + moved[2],
            extended_drop=vehicle.extended_drop + moved[2],
            seat_ahead=vehicle.seat_ahead - moved[0],
            roll_inertia=vehicle.car.roll_inertia + square[1] + square[2],
            pitch_inertia=vehicle.car.pitch_inertia + square[0] + square[2],
            yaw_inertia=vehicle.yaw_inertia + _yaw(vehicle, payload),
        )
    )


def _yaw(vehicle: Vehicle, payload: Payload) -> float:
    """What a payload adds to the yaw inertia, which is that of the whole vehicle about its own centre of gravity."""
    unsprung, total = vehicle.car.unsprung_mass, vehicle.total_mass
    ahead = vehicle.car.front_arm - payload.behind - float(unsprung @ vehicle.car.arm) / total
    left = payload.left - vehicle.cg_left - float(unsprung @ vehicle.side) / total
    return payload.mass * total / (payload.mass + total) * (ahead**2 + left**2)


def payload_named(vehicle: Vehicle, name: str, where: str) -> Payload:
    """A payload of the vehicle's file; BadInput with a near name otherwise."""
    if name not in vehicle.payloads:
        near = difflib.get_close_matches(name, vehicle.payloads, n=1)
        known = f"known: {', '.join(vehicle.payloads)}" if vehicle.payloads else "its file has no [[payload]]"
        raise BadInput(where, f"{vehicle.car.name} has no payload {name!r}; " + (f"did you mean {near[0]!r}?" if near else known))
    return vehicle.payloads[name]
