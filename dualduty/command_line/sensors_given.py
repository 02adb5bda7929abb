"""The sensors of a simulated run as options name them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from plant.sensor_file import read_faults, read_sensors
from plant.sensors import Sensors


def sensors_given(sensors: Path | None, faults: Path | None) -> Sensors:
    """Those of a file or typical ones, and the faults put in."""
    chosen = read_sensors(sensors) if sensors else Sensors.typical()
    put_in = read_faults(faults) if faults else ()
    return replace(chosen, faults=(*chosen.faults, *put_in))
