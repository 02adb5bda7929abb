"""Columns of the invented Marram logger: names, units, signs, digits and rates of what it records."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.units import STANDARD_GRAVITY

Array = NDArray[np.float64]

RATE: Final = 200.0  # Hz
BUS_EVERY: Final = 4  # bus channels come at a quarter of that
SPAN: Final = 300.0  # mm; a travel sensor mounted the other way round shows the rest of its span
STATES: Final = ("airborne", "landing", "cornering", "braking", "accelerating", "whoops", "corrugation", "rough_ground")
_SHORT: Final = ("fl", "fr", "rl", "rr")
_DEG: Final = 180 / np.pi


@dataclass(frozen=True)
class LoggedColumn:
    """A column: `shift + factor * source[corner]`, in the unit of its name, with so many digits, a value in every so many samples."""

    name: str
    source: str
    corner: int = 0
    factor: float = 1.0
    shift: float = 0.0
    digits: int = 0
    every: int = 1
    box: str = "chassis"  # which part of the logger records it


def _each(name: str, source: str, factor: float, digits: int, every: int = 1, box: str = "controller") -> tuple[LoggedColumn, ...]:
    return tuple(LoggedColumn(name.format(short), source, at, factor, 0.0, digits, every, box) for at, short in enumerate(_SHORT))


def _wheels_and_duties() -> tuple[LoggedColumn, ...]:
    """Corner by corner, as this logger lists them."""
    speeds = _each("wheel_speed_{}_km_h", "wheel_speed", 3.6, 2, BUS_EVERY, "bus")
    compression, rebound = (_each(f"duty_{short}_{{}}_pct", f"applied_{side}", 100.0, 1) for short, side in _SIDES)
    return tuple(column for corner in zip(speeds, compression, rebound, strict=True) for column in corner)


_SIDES: Final = (("comp", "compression"), ("reb", "rebound"))
PLAIN: Final = (  # what an ordinary run records
    *(LoggedColumn(f"travel_{short}_mm", "shaft_travel", at, 1e3, digits=2) for at, short in enumerate(_SHORT[:3])),
    LoggedColumn("travel_rr_mm", "shaft_travel", 3, -1e3, SPAN, 2),  # mounted the other way round
    *(LoggedColumn(f"accel_{axis}_g", f"specific_force_{axis}", factor=1 / STANDARD_GRAVITY, digits=4, box="inertial") for axis in "xyz"),
    *(LoggedColumn(f"{axis}_rate_deg_s", f"{axis}_rate", factor=_DEG, digits=3, box="inertial") for axis in ("roll", "pitch", "yaw")),
    LoggedColumn("steer_deg", "steer_angle", factor=_DEG, digits=2, every=BUS_EVERY, box="bus"),
    LoggedColumn("brake_pct", "brake", factor=100.0, digits=1, every=BUS_EVERY, box="bus"),
    LoggedColumn("throttle_pct", "throttle", factor=100.0, digits=1, every=BUS_EVERY, box="bus"),
    *_wheels_and_duties(),
    LoggedColumn("state_airborne", "airborne", box="controller"),
)
SESSION: Final = (  # what a test session records on top
    *PLAIN,
    *(LoggedColumn(f"state_{name}", name, box="controller") for name in STATES if name != "airborne"),
    *(column for short, side in _SIDES for column in _each(f"command_{short}_{{}}_pct", side, 100.0, 1)),
    LoggedColumn("seat_accel_z_g", "seat_specific_force_z", factor=1 / STANDARD_GRAVITY, digits=4),
    LoggedColumn("marker", "marker", box="controller"),
)
MODE: Final = LoggedColumn("drive_mode", "drive_mode", box="controller")
BY_NAME: Final = {column.name: column for column in (*SESSION, MODE)}


def recorded(columns: Sequence[LoggedColumn], rows: Mapping[str, Array]) -> dict[str, Array]:
    """Columns by name, (sample,) arrays in the logger's units, NaN where it records nothing.

    rows : dict of (corner, sample) arrays
        What is recorded, by source, at the logger's samples. [SI]
    """
    return {column.name: _values(column, rows[column.source][column.corner]) for column in columns}


def _values(column: LoggedColumn, source: Array) -> Array:
    values = column.factor * source
    values = column.shift + values if column.shift else values
    values[np.arange(len(values)) % column.every != 0] = np.nan
    return values


def sample_ticks(ticks: int, dt: float) -> NDArray[np.int_]:
    """The controller's ticks at which the logger takes a sample: its rate on their raster, which is two ticks, then three."""
    step = round(1.0 / (RATE * dt) * 2) / 2
    return np.unique(np.floor(np.arange(0, ticks - 1, step)).astype(int))


def stamps_of(ticks: NDArray[np.int_], dt: float, random: np.random.Generator) -> Array:
    """Stamps of the samples, as unsteady as a logger's clock. [s]"""
    return np.asarray(ticks * dt + np.clip(random.normal(0.0, 0.2e-3, len(ticks)), -0.8e-3, 0.8e-3))
