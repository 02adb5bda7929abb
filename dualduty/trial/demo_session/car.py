"""The car that drives the demo sessions: the Marram's second one, off by a little more everywhere, and what its sensors are off."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from plant.payload import laden
from plant.ride_height import settled
from plant.sensor_offsets import with_offsets
from plant.sensors import TYPICAL, SensorError, Sensors
from plant.vehicle import Payload, Vehicle

Array = NDArray[np.float64]

# Standard deviation of each number's share, ours: what two cars of a type differ by when nobody matched them.
# Axle quantities are drawn once for all corners, the others corner by corner.
_SPREAD: Final = {
    "grip": 0.03, "tyre_rate": 0.03, "unsprung_mass": 0.015, "valve_rise": 0.08, "valve_fall": 0.08, "roll_inertia": 0.02,
    "pitch_inertia": 0.02, "yaw_inertia": 0.02,
}  # fmt: skip
_SPREAD_BY_CORNER: Final = {"spring_rate": 0.01, "compression_scale": 0.04, "rebound_scale": 0.04, "friction": 0.15}
_LOAD: Final = (5.0, 30.0)  # kg of kit that was not weighed
_OFF: Final = {"shaft_travel": 0.8e-3, "yaw_rate": 1.5e-3, "specific_force_y": 0.05}  # added to what marram_2's file says. [SI]


@dataclass(frozen=True, eq=False)
class SessionCar:
    """A vehicle and its sensors, and in words and numbers how they differ from the file they come from."""

    vehicle: Vehicle
    sensors: Sensors
    differences: dict[str, Any]


def session_car(measured: Vehicle, seed: int) -> SessionCar:
    """The measured vehicle with small deviations drawn from a seed, standing where springs and masses then let it stand."""
    random = np.random.default_rng([seed, 1])
    shares: dict[str, Any] = {name: 1.0 + spread * _drawn(random, ()) for name, spread in _SPREAD.items()}
    shares |= {name: 1.0 + spread * _drawn(random, (4,)) for name, spread in _SPREAD_BY_CORNER.items()}
    kit = Payload(
        name="kit",
        mass=float(random.uniform(*_LOAD)),
        behind=float(random.uniform(1.2, 2.2)),
        left=float(random.uniform(-0.3, 0.3)),
        height=0.8,
    )
    numbers = {name: _number(measured, name) * share for name, share in shares.items()}
    vehicle = laden(settled(measured.overlay(**numbers)), kit)
    sensors, errors = _sensors(vehicle, random, seed)
    return SessionCar(vehicle, sensors, _differences(vehicle, shares, kit) | {"sensor": errors})


def _differences(vehicle: Vehicle, shares: dict[str, Any], kit: Payload) -> dict[str, Any]:
    return {
        "factor_over_marram_2": {name: _rounded(share, 4) for name, share in shares.items()},
        "kit_not_weighed": {
            "mass_kg": _rounded(kit.mass, 2), "behind_front_axle_m": _rounded(kit.behind, 3), "left_m": _rounded(kit.left, 3),
        },
        "static_travel_mm": _rounded(1e3 * vehicle.car.static_travel, 2),
        "static_wheel_load_n": _rounded(vehicle.car.static_wheel_load, 1),
    }  # fmt: skip


def _drawn(random: np.random.Generator, shape: tuple[int, ...]) -> Any:
    """Normal, but never beyond two standard deviations."""
    return np.clip(random.standard_normal(shape), -2.0, 2.0)


def _number(vehicle: Vehicle, name: str) -> Any:
    return getattr(vehicle.car if hasattr(vehicle.car, name) else vehicle, name)


def _sensors(vehicle: Vehicle, random: np.random.Generator, seed: int) -> tuple[Sensors, dict[str, Any]]:
    """Sensors of one car: their offsets and gains stay the same from log to log, only the noise is new."""
    errors = with_offsets(Sensors(TYPICAL, seed), vehicle).errors
    fixed = {name: _fixed(name, error, random) for name, error in errors.items()}
    said = {
        name: {"offset": _rounded(np.asarray(error.offset), 6), "gain": _rounded(np.asarray(error.gain), 5)}
        for name, error in fixed.items()
    }
    return Sensors(fixed, seed), said


def _fixed(name: str, error: SensorError, random: np.random.Generator) -> SensorError:
    corners = (4,) if name in {"shaft_travel", "wheel_speed"} else ()
    offset = np.asarray(error.offset) + (_OFF.get(name, 0.0) + error.offset_spread) * _drawn(random, corners)
    gain = np.asarray(error.gain) * (1.0 + error.gain_spread * _drawn(random, corners))
    return replace(error, offset=_plain(offset), gain=_plain(gain), offset_spread=0.0, gain_spread=0.0)


def _plain(values: Any) -> Any:
    return tuple(values.tolist()) if np.ndim(values) else float(values)


def _rounded(values: Any, digits: int) -> Any:
    return np.round(values, digits).tolist()
