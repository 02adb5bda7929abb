"""The sensors of one vehicle: what a kind of sensor does, and what those of this vehicle were measured to be off."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from plant.sensors import SensorError, Sensors
from plant.vehicle import Vehicle


def with_offsets(sensors: Sensors, vehicle: Vehicle) -> Sensors:
    """Sensors with a vehicle's fixed offsets added; what was measured is no longer drawn by chance."""
    errors = dict(sensors.errors)
    for name, offset in vehicle.sensor_offset.items():
        error = errors.get(name, SensorError())
        total: Any = np.asarray(error.offset) + offset
        errors[name] = replace(error, offset_spread=0.0, offset=tuple(total.tolist()) if np.ndim(total) else float(total))
    return replace(sensors, errors=errors)
