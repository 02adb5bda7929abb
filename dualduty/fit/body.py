"""The body as a scale: specific force, roll and pitch acceleration that the corners' forces make, against what was measured.

No ground is needed: shaft travels are measured, and what acts along the struts follows from them. What the road pushes
back and sideways is measured too, by the accelerometer. In roll the links push m (h - roll centre) times the sideways
specific force; in pitch the road's slope and what it decelerates join to m (h - tyre radius) times forward specific force
plus the slope of the axles against the body. What brakes and engine do is not modelled: steady runs are asked for.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.fit import corners
from dualduty.fit.runs import RATE, Run
from dualduty.fit.smoothing import earlier, rate_of, smoothed
from dualduty.fit.unknowns import IMU_LATER
from dualduty.signals import CORNERS
from plant.vehicle import Vehicle

Array = NDArray[np.float64]

SPEED_HZ: Final = 60.0  # above it travel is mostly noise
SEEN_HZ: Final = 20.0  # above wheel hop, far below the sensor box's filter
EVERY: Final = 5  # samples of the comparison: 100 Hz
BESIDE: Final = 0.06  # s around a stop that is left out, since the low-pass smears it
CLEAR: Final = 0.004  # m from a stop's contact, offsets included
SOFT: Final = 0.4e-6  # m/N, at which the yielding is worked out; straight between and beyond
ENDS: Final = 0.1  # s at either end, where the filters start


@dataclass
class Scale:
    """One run as the fit sees it; (4, time) inputs, (3, sample) measured accelerations and where they count."""

    run: Run
    vehicle: Vehicle
    travel: Array
    speed: Array
    along: Array
    measured: Array
    change: Array
    counts: Array
    wheel: Array
    ratio: Array
    wheel_rate: Array
    level: float
    _known: dict[tuple[float, ...], tuple[dict[str, Array], dict[str, Array]]] = field(default_factory=dict)

    def damper_forces(self, value: dict[str, float]) -> dict[str, Array]:
        """Forces by side at a valve's numbers and what yields in series; kept, since other unknowns leave them as they are."""
        key = (value["valve_rise"], value["valve_fall"], value["valve_delay"]) if self.run.stepped else ()
        if key not in self._known:
            if len(self._known) > 8:  # noqa: PLR2004 - the last few
                self._known.clear()
            self._known[key] = self._anew(value)
        rigid, soft = self._known[key]
        share = value["series_yield"] / SOFT
        return {side: rigid[side] + share * (soft[side] - rigid[side]) for side in rigid}

    def _anew(self, value: dict[str, float]) -> tuple[dict[str, Array], dict[str, Array]]:
        """Forces of a rigid damper, and of one that yields by `SOFT`: oil moves slower than the shaft by what the spring takes up."""
        reached = corners.reached_duties(self.run, value["valve_rise"], value["valve_fall"], value["valve_delay"])
        rigid = corners.dampers(self.vehicle, self.travel, self.speed, reached)
        soft = rigid
        for _ in range(2):
            oil = self.speed - SOFT * rate_of(smoothed(soft["compression"] + soft["rebound"], SPEED_HZ))
            soft = corners.dampers(self.vehicle, self.travel, oil, reached)
        return rigid, soft


def scale_of(run: Run, vehicle: Vehicle) -> Scale:
    """A run prepared for the fit of a vehicle."""
    told = np.broadcast_to(np.asarray(vehicle.sensor_offset.get("shaft_travel", 0.0), float), 4)[:, None]
    travel = smoothed(run.signals["shaft_travel"] - told, SPEED_HZ)
    along = np.concatenate([run.signals[f"specific_force_{axis}"] for axis in "xyz"])
    rates = np.concatenate([run.signals["roll_rate"], run.signals["pitch_rate"]])
    felt = smoothed(np.concatenate([along, rates]), SEEN_HZ)
    seen = earlier(np.concatenate([felt[2:3], rate_of(felt[3:])]), IMU_LATER)
    measured, change = seen[:, ::EVERY], rate_of(seen)[:, ::EVERY]
    wheel, ratio = corners.wheel_travel(vehicle, travel)
    return Scale(
        run, vehicle, travel, rate_of(travel), earlier(felt[:3], IMU_LATER), measured, change, _counts(travel, vehicle), wheel, ratio,
        rate_of(rate_of(smoothed(wheel, SEEN_HZ))), _level(vehicle),
    )  # fmt: skip


def _counts(travel: Array, vehicle: Vehicle) -> Array:
    """1 where no stop is near in time and travel, (sample,)."""
    near = ((travel < CLEAR) | (travel > vehicle.car.bump_contact[:, None] - CLEAR)).any(axis=0)
    wide = np.convolve(near.astype(float), np.ones(2 * round(BESIDE * RATE) + 1), mode="same") > 0.5  # noqa: PLR2004
    ends = round(ENDS * RATE)
    wide[:ends] = wide[-ends:] = True
    return (~wide)[::EVERY].astype(float)


def residuals(scale: Scale, value: dict[str, float]) -> Array:
    """Measured less modelled specific force [m/s²], roll and pitch acceleration [rad/s²], (3, sample)."""
    modelled = smoothed(accelerations(scale, value), SEEN_HZ)[:, ::EVERY]
    late = value["sensor_box_later"] - IMU_LATER
    return scale.measured + late * scale.change - modelled


def accelerations(scale: Scale, value: dict[str, float]) -> Array:
    """Modelled specific force, roll and pitch acceleration of the body, (3, time)."""
    vehicle, car = scale.vehicle, scale.vehicle.car
    struts, wheel = _struts(scale, value)
    mass = value["sprung_mass"]
    ahead, left, up = scale.along - np.array([[value[f"specific_force_{axis}_offset"]] for axis in "xyz"])
    arm = np.array([1.0, 1.0, 0.0, 0.0]) * car.wheelbase - (car.wheelbase - value["front_arm"])
    side = car.side - value["cg_left"]
    axles = (wheel[0] + wheel[1] - wheel[2] - wheel[3]) / (2.0 * car.wheelbase)
    loads = struts + vehicle.car.unsprung_mass[:, None] * (up + scale.wheel_rate)
    crushed = (loads - loads_at_rest(vehicle)) / vehicle.tyre_rate[:, None]  # the ground lies deeper under a tyre that is pressed more
    slope = axles - scale.level + (crushed[0] + crushed[1] - crushed[2] - crushed[3]) / (2.0 * car.wheelbase)
    bank = 0.25 * ((crushed[0] - crushed[1]) / car.half_track[0] + (crushed[2] - crushed[3]) / car.half_track[2])
    height = value["cg_height"]
    roll = side @ struts + mass * (height - vehicle.roll_centre.mean()) * (left + bank * up)
    pitch = -arm @ struts - mass * (height - car.tyre_radius) * (ahead + slope * up)
    force = struts.sum(axis=0) / mass + value["specific_force_z_offset"]
    return np.stack([force, roll / value["roll_inertia"], pitch / value["pitch_inertia"]])


def loads_at_rest(vehicle: Vehicle) -> Array:
    """Wheel loads at ride height, (4, 1). [N]"""
    return vehicle.car.static_wheel_load[:, None]


def _level(vehicle: Vehicle) -> float:
    """What the axles' slope against the body is on level ground."""
    wheel = corners.wheel_travel(vehicle, vehicle.car.static_travel[:, None])[0][:, 0]
    return float((wheel[0] + wheel[1] - wheel[2] - wheel[3]) / (2.0 * vehicle.car.wheelbase))


def _struts(scale: Scale, value: dict[str, float]) -> tuple[Array, Array]:
    """Forces of the struts at the wheels [N] and wheel travels [m], (4, time)."""
    vehicle = scale.vehicle
    told = np.broadcast_to(np.asarray(vehicle.sensor_offset.get("shaft_travel", 0.0), float), 4)
    off = np.array([value[f"shaft_travel_offset {corner}"] for corner in CORNERS]) - told
    travel = scale.travel - off[:, None]
    wheel, ratio = scale.wheel - off[:, None] / scale.ratio, scale.ratio  # a millimetre changes the ratio by 0.03 %
    coil, gas = corners.springs(vehicle, travel)
    axle = np.array([value["spring_scale front"]] * 2 + [value["spring_scale rear"]] * 2)[:, None]
    shaft = axle * coil + gas + value["friction_scale"] * corners.friction(vehicle, scale.speed)
    forces = scale.damper_forces(value)
    for side, force in forces.items():
        shaft = shaft + np.array([[value[f"{side}_scale {corner}"]] for corner in CORNERS]) * force
    struts = ratio * shaft
    for first, name in ((0, "front"), (2, "rear")):
        bar = value[f"bar_scale {name}"] * vehicle.bar_rate[first] * (wheel[first] - wheel[first + 1])
        struts[first] += bar
        struts[first + 1] -= bar
    return struts, wheel


def scales_of(runs: Sequence[Run], vehicle: Vehicle) -> list[Scale]:
    """All runs prepared."""
    return [scale_of(run, vehicle) for run in runs]
