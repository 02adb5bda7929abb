"""Slow ride-height offset of each corner: payload, trim of a spring seat, offset of a travel sensor."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from dualduty.cells import hold, low_pass
from dualduty.contract import quantity
from dualduty.each_tick import each_tick, share, ticks
from dualduty.parameters import param
from dualduty.units import STANDARD_GRAVITY


@each_tick
@dataclass(frozen=True)
class RideHeight:
    """Mean of shaft travel less static travel over the time the car just rolls along, by corner; 0 until it has.

    It learns while the car rolls at `rolling` or faster on smooth and level ground, without braking, hard throttle, cornering
    or flight, and when that has been so for `calm`; a corner whose travel sensor is not believed keeps what it had, and so do all
    while brake, throttle or vertical force are not: nobody knows then whether it is calm. The first stretch counts as a plain mean,
    later ones with `settling`. It can't tell a load from a shifted sensor; both are to be taken off a spring's force.
    """

    settling: float = param(20.0, "s", 1.0, 600.0, "time constant of learning, in time that counts")
    calm: float = param(0.4, "s", 0.0, 10.0, "how long the car must have rolled undisturbed before it counts", said="ms")
    rolling: float = param(2.0, "m/s", 0.1, 20.0, "speed from which it rolls", said="km/h")
    steady: float = param(1.2, "m/s²", 0.2, 10.0, "lateral acceleration up to which it goes straight", said="g")
    level: float = param(0.07, "rad", 0.01, 0.5, "bank and slope up to which the ground is level", said="deg")
    brake_off: float = param(0.03, "1", 0.0, 1.0, "brake demand up to which nothing is braked", said="pct")
    throttle_off: float = param(0.5, "1", 0.0, 1.0, "throttle up to which the car doesn't squat to speak of", said="pct")
    force_band: float = param(
        1.5, "m/s²", 0.1, 10.0, "distance of the smoothed vertical specific force from g that is still calm", said="g"
    )
    quiet: float = param(
        0.15, "m/s", 0.01, 2.0, "mean speed of the shafts up to which the ground is smooth: on rough ground a car packs down"
    )
    largest: float = param(0.04, "m", 0.0, 0.2, "largest offset", said="mm")
    static_travel: float = param(0.1, "m", 0.0, 1.0, "shaft travel at ride height", said="mm", by_corner=True, from_car="static_travel")

    gives = (quantity("ride_height_offset", "m", "slow offset of shaft travel from its static value, lower car positive"),)
    does_without = ("brake", "throttle", "specific_force_z")

    def prepared(self, dt: float) -> dict[str, Any]:
        """Share per tick, and the time of calm in ticks."""
        return {"learning": -np.expm1(-dt / np.asarray(self.settling)), "calm_ticks": ticks(self.calm, dt), "force": share(1.0, dt)}

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """Ride-height offset. [m]"""
        apart = abs(low_pass(memory.force, now.specific_force_z, self.force) - STANDARD_GRAVITY)
        busy = 1.0 if now.vehicle_speed < self.rolling or now.brake > self.brake_off or now.throttle > self.throttle_off else 0.0
        if max(now.airborne_likely, now.airborne) > 0.5 or abs(now.lateral_acceleration) > self.steady or apart > self.force_band:
            busy = 1.0
        if abs(now.ground_bank) > self.level or abs(now.ground_slope) > self.level:
            busy = 1.0
        if min(now.brake_valid, now.throttle_valid, now.specific_force_z_valid) < 0.5:
            busy = 1.0
        moving = (abs(now.shaft_speed[0]) + abs(now.shaft_speed[1])) + (abs(now.shaft_speed[2]) + abs(now.shaft_speed[3]))
        if low_pass(memory.moving, 0.25 * moving, self.force) > self.quiet:
            busy = 1.0
        calm = 1.0 - hold(memory.busy, busy, self.calm_ticks)
        for corner in range(4):
            if calm * now.shaft_travel_valid[corner] > 0.5:
                memory.count[corner] += 1.0
                gain = max(self.learning, 1.0 / memory.count[corner])
                memory.offset[corner] += gain * (now.shaft_travel[corner] - self.static_travel[corner] - memory.offset[corner])
            trust = min(memory.count[corner] * self.learning * 4.0, 1.0)
            out.ride_height_offset[corner] = trust * min(max(memory.offset[corner], -self.largest), self.largest)
