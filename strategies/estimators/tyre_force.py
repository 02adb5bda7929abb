"""Vertical force of each tyre, from what the body feels and how the wheels move."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from dualduty.cells import derivative, low_pass
from dualduty.contract import quantity
from dualduty.each_tick import each_tick, share
from dualduty.parameters import param


@each_tick
@dataclass(frozen=True)
class TyreForce:
    """Tyre force by Newton's law: what holds up the sprung mass, shared between the corners, and what moves each wheel.

    The body's specific force and angular accelerations say what all four tyres together carry of the sprung mass, how much of
    it front and rear, and how much left and right. How the left-right difference splits between the axles they can't say (warp):
    springs, bars and a rough damper say it, and what is missing to the measured sum goes to both axles; all of it goes to the axle
    of a travel that is not believed, since that tells nothing of the split. Each wheel adds its
    unsprung mass times the specific force it feels: the body's above it plus the wheel's own acceleration in the arch.

    The latter is a second derivative of a travel sensor. It is usable up to some 15 Hz and late by 16 ms in all, so
    everything else is smoothed alike: a force that is late and right, and not one whose parts belong to different times.
    docs/estimators.md has the errors by section, and how well less than 15 % of the static load tells a wheel in the air.

    Without a gyro, what it takes to turn the body is left out; without the sideways force, springs and bars alone tell left from
    right; without the forward force, braking shifts nothing.

    Reads signals, rates and shaft speed only, so that detectors of flight may read it.

    Notes
    -----
    m_s f_z, I_y pitch'' + m h f_x and I_x roll'' - m h f_y are the sums over the tyres, in axes of the body, m with unsprung masses.
    """

    corner_hz: float = param(26.0, "Hz", 4.0, 120.0, "corner frequency of the two lags of everything")
    angular_hz: float = param(60.0, "Hz", 5.0, 200.0, "corner frequency of the lag in the angular accelerations")
    sprung_mass: float = param(800.0, "kg", 50.0, 10000.0, "sprung mass, laden", from_car="sprung_mass")
    unsprung_mass: float = param(38.0, "kg", 5.0, 300.0, "unsprung mass", by_corner=True, from_car="unsprung_mass")
    roll_inertia: float = param(320.0, "kg·m²", 10.0, 20000.0, "roll inertia of the sprung mass", from_car="roll_inertia")
    pitch_inertia: float = param(900.0, "kg·m²", 10.0, 50000.0, "pitch inertia of the sprung mass", from_car="pitch_inertia")
    cg_height: float = param(0.63, "m", 0.1, 2.0, "height of the centre of gravity over the ground", said="mm")
    corner_x: float = param(0.0, "m", -5.0, 5.0, "corner ahead of the centre of gravity", said="mm", by_corner=True, from_car="arm")
    half_track: float = param(0.75, "m", 0.3, 1.5, "half the track", said="mm", by_corner=True, from_car="half_track")
    motion_ratio: float = param(0.6, "1", 0.2, 1.5, "shaft travel per wheel travel", by_corner=True, from_car="motion_ratio")
    spring_rate: float = param(
        36e3, "N/m", 1e3, 1e6, "spring rate at the shaft, for the split of roll between the axles", said="N/mm", by_corner=True
    )
    bar_rate: float = param(1350.0, "N/m", 0.0, 1e6, "anti-roll bar at the wheel, per difference of wheel travel", by_corner=True)
    damping: float = param(2000.0, "N·s/m", 0.0, 1e5, "rough damping at the shaft, for the same split", by_corner=True)

    gives = (quantity("tyre_force", "N", "vertical force of each tyre, 0 or more"),)
    does_without = ("roll_rate", "pitch_rate", "specific_force_x", "specific_force_y")

    def prepared(self, dt: float) -> dict[str, Any]:
        """Shares of the lags; what a strut carries at the wheel per shaft travel and speed; wheel speed per shaft speed."""
        ratio = np.asarray(self.motion_ratio, float)
        return {
            "lag": share(self.corner_hz, dt),
            "angular": share(self.angular_hz, dt),
            "per_ratio": 1.0 / ratio,
            "per_travel": ratio * self.spring_rate + 2.0 * self.bar_rate / ratio,
            "per_speed": ratio * self.damping,
        }

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """Tyre forces. [N]"""
        rolling = derivative(memory.roll, now.net_roll_rate, self.angular, now.dt) * now.roll_rate_valid
        pitching = derivative(memory.pitch, now.net_pitch_rate, self.angular, now.dt) * now.pitch_rate_valid
        whole = self.sprung_mass + (self.unsprung_mass[0] + self.unsprung_mass[1]) + (self.unsprung_mass[2] + self.unsprung_mass[3])
        sprung = self.sprung_mass * now.specific_force_z
        ahead, behind = 0.5 * (self.corner_x[0] + self.corner_x[1]), -0.5 * (self.corner_x[2] + self.corner_x[3])
        apart = max(ahead + behind, 0.1)
        nose_up = self.pitch_inertia * pitching + whole * self.cg_height * now.specific_force_x * now.specific_force_x_valid
        to_right = whole * self.cg_height * now.specific_force_y - self.roll_inertia * rolling
        for corner in range(4):
            memory.strut[corner] = self.per_travel[corner] * now.shaft_travel[corner] + self.per_speed[corner] * now.shaft_speed[corner]
        front_half, rear_half = 0.5 * (self.half_track[0] + self.half_track[1]), 0.5 * (self.half_track[2] + self.half_track[3])
        front, rear = memory.strut[1] - memory.strut[0], memory.strut[3] - memory.strut[2]
        front_tells = min(now.shaft_travel_valid[0], now.shaft_travel_valid[1])
        rear_tells = min(now.shaft_travel_valid[2], now.shaft_travel_valid[3])
        front, rear = front * front_tells, rear * rear_tells
        to_front = front_half if front_tells <= rear_tells else 0.0
        to_rear = rear_half if rear_tells <= front_tells else 0.0
        missing = (to_right - front_half * front - rear_half * rear) / (front_half * to_front + rear_half * to_rear)
        missing *= now.specific_force_y_valid
        for corner in range(4):
            if corner < 2:
                carried, split = (sprung * behind - nose_up) / apart, front + missing * to_front
            else:
                carried, split = (sprung * ahead + nose_up) / apart, rear + missing * to_rear
            side = 1.0 if corner % 2 == 0 else -1.0
            wheel = derivative(memory.wheel[corner], now.shaft_speed[corner] * self.per_ratio[corner], self.lag, now.dt)
            arm = side * self.half_track[corner] * rolling - self.corner_x[corner] * pitching
            still = 0.5 * (carried - side * split) + self.unsprung_mass[corner] * (now.specific_force_z + arm)
            first = low_pass(memory.first[corner], still, self.lag) + self.unsprung_mass[corner] * wheel
            out.tyre_force[corner] = max(low_pass(memory.second[corner], first, self.lag), 0.0)
