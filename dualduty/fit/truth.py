"""What a fit should find when the truth is known: for demo data and tests only."""

from __future__ import annotations

from dualduty.signals import CORNERS, SIDES
from plant.vehicle import Vehicle

_PLAIN = ("cg_left", "cg_height", "valve_rise", "valve_fall", "valve_delay")
_CAR = ("sprung_mass", "front_arm", "roll_inertia", "pitch_inertia")


def truth_values(vehicle: Vehicle, truth: Vehicle) -> dict[str, float]:
    """Unknowns by name as they would be found without error, in SI; sensor errors drawn by chance are not among them."""
    found = {name: float(getattr(truth, name)) for name in _PLAIN} | {name: float(getattr(truth.car, name)) for name in _CAR}
    for axle, corner in (("front", 0), ("rear", 2)):
        found[f"spring_scale {axle}"] = float(truth.spring_rate[corner] / vehicle.spring_rate[corner])
        found[f"bar_scale {axle}"] = float(truth.bar_rate[corner] / vehicle.bar_rate[corner])
    found["friction_scale"] = float(truth.friction.mean() / vehicle.friction.mean())
    found["series_yield"] = float(1.0 / truth.series_rate.mean())
    for side in SIDES:
        scale = getattr(truth, f"{side}_scale") / getattr(vehicle, f"{side}_scale")
        found |= {f"{side}_scale {corner}": float(value) for corner, value in zip(CORNERS, scale, strict=True)}
    return found
