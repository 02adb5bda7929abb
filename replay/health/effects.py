"""What each signal carries: the states, laws and scores that can't be trusted where it is wrong."""

from __future__ import annotations

from typing import Final

_CARRIES: Final = {
    "shaft_travel": "shaft speed, end stops, airborne, landing and whoops, every law on shaft speed, and all travel scores of this corner",
    "specific_force_x": "braking and accelerating, pitch support",
    "specific_force_y": "cornering, side slope, corner support",
    "specific_force_z": "airborne and landing, body speed of every corner, comfort and impact scores",
    "roll_rate": "corner body speeds, body hold in roll, roll scores",
    "pitch_rate": "corner body speeds, body hold in pitch, pitch at take-off and touchdown",
    "yaw_rate": "cornering and corner support",
    "wheel_speed": "vehicle speed, everything scheduled over speed, standstill and walking pace",
    "steer_angle": "turn-in and cornering where the yaw rate is lost",
    "brake": "braking, pedal laws",
    "throttle": "accelerating, pedal laws",
    "applied_compression": "forces estimated from duty, and the sameness check",
    "applied_rebound": "forces estimated from duty, and the sameness check",
    "logged_compression": "the sameness check",
    "logged_rebound": "the sameness check",
    "seat_specific_force_z": "comfort at the seat",
    "hub_specific_force_z": "wheel hop measures",
}


def carries(name: str) -> str:
    """What stands on a signal, in words."""
    return _CARRIES.get(name, "what is compared with it; no law reads it")


def untrusted(name: str) -> str:
    """As a sentence's end: what can't be trusted."""
    return f"not to be trusted meanwhile: {carries(name)}"
