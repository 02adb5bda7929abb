"""What a fit found as numbers of the vehicle file."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from dualduty.signals import CORNERS, SIDES

if TYPE_CHECKING:
    from dualduty.fit.solve import Fit

PLAIN = ("sprung_mass", "front_arm", "cg_left", "roll_inertia", "pitch_inertia", "cg_height", "valve_rise", "valve_fall", "valve_delay")


def numbers_of(found: Fit) -> dict[str, Any]:
    """Numbers by field name of Car and Vehicle, in SI; scales are laid on what they scale."""
    value = {name: each.value for name, each in found.estimates.items()}
    vehicle = found.vehicle
    front, rear = (np.array([1.0, 1.0, 0.0, 0.0]), np.array([0.0, 0.0, 1.0, 1.0]))
    springs = front * value["spring_scale front"] + rear * value["spring_scale rear"]
    numbers: dict[str, Any] = {name: value[name] for name in PLAIN}
    numbers["valve_delay"] = max(numbers["valve_delay"], 0.0)
    numbers["spring_rate"] = vehicle.spring_rate * springs
    numbers["second_rate"] = vehicle.second_rate * springs
    numbers["bar_rate"] = vehicle.bar_rate * (front * value["bar_scale front"] + rear * value["bar_scale rear"])
    numbers["series_rate"] = 1.0 / max(value["series_yield"], 1e-8) + 0.0 * vehicle.series_rate
    numbers["friction"] = vehicle.friction * max(value["friction_scale"], 0.0)
    for side in SIDES:
        scale = np.array([value[f"{side}_scale {corner}"] for corner in CORNERS])
        numbers[f"{side}_scale"] = getattr(vehicle, f"{side}_scale") * scale
    return numbers
