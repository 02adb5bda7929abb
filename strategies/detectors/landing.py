"""Landing: how hard it is going to be, foretold in the air, and the moments after the wheels come down."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from dualduty.cells import hold, leak, low_pass, share, ticks
from dualduty.contract import quantity, state
from dualduty.each_tick import each_tick
from dualduty.parameters import param
from dualduty.units import STANDARD_GRAVITY


@each_tick
@dataclass(frozen=True)
class Landing:
    """`landing` opens when the body feels the ground again after flight, and stays for a while, longer after further blows.

    Shaft speed is no witness: a wheel that drops to full extension bounces off its droop stop as fast as a gentle landing drives it in.

    `landing_speed` is the speed at which the fastest-falling corner would meet level ground if it met it now: the body's fall since
    take-off, which free fall foretells, with pitch and roll rate over the arms. It grows to what touchdown brings, so a preset may
    be scaled by `landing_severity`, its place between `gentle` and `hard`. After touchdown both keep their last value, and rise to
    what the wheels then show. A new flight ends the state and starts all over.

    Before the vertical speed at take-off is known well, `air_time` bounds it: a flight that ends level with its start ends at g t / 2,
    of which `level_share` counts at least. Ground that falls away under the car is met more gently than said, ground that rises
    harder: neither is known in the air. Nothing here knows a drop height before it has been fallen through: v^2 = 2 g h is its result.

    Notes
    -----
    Vertical speed is the integral of the upright specific force less g, forgetting below `leak_hz` on the ground, not at all in flight.
    An offset of the accelerometer passes: 0.1 m/s² are 0.27 m/s at 0.06 Hz. So does an angle that is off: 1 % of g at 8 degrees.
    Latch of 0.3 to 0.6 s: common practice, from memory. Other defaults: measured on the bench's plant, not on a vehicle.
    """

    leak_hz: float = param(0.06, "Hz", 0.01, 1.0, "frequency below which vertical speed is forgotten, on the ground")
    smooth_hz: float = param(60.0, "Hz", 5.0, 200.0, "corner frequency of the smoothing of specific force")
    on_force: float = param(0.25 * STANDARD_GRAVITY, "m/s²", 0.5, 30.0, "felt force after flight that says wheels are down", said="g")
    blow_force: float = param(1.5 * STANDARD_GRAVITY, "m/s²", 9.0, 60.0, "felt force after touchdown that is another blow", said="g")
    within: float = param(0.25, "s", 0.02, 2.0, "how soon after flight both must come", said="ms")
    stays: float = param(0.45, "s", 0.05, 3.0, "how long the state lasts after touchdown, or the last blow", said="ms")
    told_late: float = param(0.032, "s", 0.0, 0.2, "how late the pre-arm tells of a flight, for air time", said="ms")
    level_share: float = param(0.5, "1", 0.0, 1.0, "least share of g t / 2 that counts as landing speed", said="pct")
    gentle: float = param(1.0, "m/s", 0.0, 5.0, "landing speed of no severity")
    hard: float = param(4.0, "m/s", 0.5, 12.0, "landing speed of full severity")
    corner_x: float = param(0.0, "m", -5.0, 5.0, "corner ahead of the centre of gravity", said="mm", by_corner=True, from_car="arm")
    corner_y: float = param(0.0, "m", -2.0, 2.0, "corner left of the centre of gravity", said="mm", by_corner=True, from_car="side")
    motion_ratio: float = param(0.6, "1", 0.2, 1.5, "shaft travel per wheel travel", by_corner=True, from_car="motion_ratio")

    ordered = (("on_force", "blow_force"), ("gentle", "hard"))
    gives = (
        state("landing", "wheels have just come down after flight"),
        quantity("landing_speed", "m/s", "foretold closing speed at touchdown", corners=1),
        quantity("landing_severity", "1", "0 for a gentle landing, 1 for a hard one", corners=1),
        quantity("air_time", "s", "time in the air, of the last flight until its landing is over", corners=1),
    )
    does_without = ("shaft_travel", "pitch_rate", "roll_rate", "yaw_rate", "specific_force_x", "specific_force_y", "wheel_speed", "brake")

    def prepared(self, dt: float) -> dict[str, Any]:
        """Shares, times in ticks, severity per speed."""
        keep, gain = leak(self.leak_hz, dt)
        return {
            "keep": keep,
            "gain": gain,
            "smooth": share(self.smooth_hz, dt),
            "within_ticks": ticks(self.within, dt),
            "stays_ticks": ticks(self.stays, dt),
            "per_ratio": 1.0 / np.asarray(self.motion_ratio),
            "per_speed": 1.0 / np.maximum(np.asarray(self.hard) - self.gentle, 1e-3),
        }

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """State, and what is foretold."""
        roll, pitch = now.body_roll, now.body_pitch
        flying = now.airborne_likely > 0.5 or now.airborne > 0.5
        leans = 0.0 if flying else STANDARD_GRAVITY  # what a lost channel would show of it; in flight nothing
        left = now.specific_force_y if now.specific_force_y_valid > 0.5 else leans * roll
        ahead = now.specific_force_x if now.specific_force_x_valid > 0.5 else -leans * pitch
        upright = now.specific_force_z + roll * left - pitch * ahead
        rate = upright / math.sqrt(1.0 + roll * roll + pitch * pitch) - STANDARD_GRAVITY
        memory.rise = memory.rise + now.dt * rate if flying else self.keep * memory.rise + self.gain * rate
        felt = low_pass(memory.felt, now.specific_force_z, self.smooth)

        pitching, rolling = now.pitch_rate * now.pitch_rate_valid, now.roll_rate * now.roll_rate_valid
        closing, first, second = 0.0, 0.0, 0.0
        for corner in range(4):
            closing = max(closing, self.corner_x[corner] * pitching - self.corner_y[corner] * rolling - memory.rise)
            wheel = now.shaft_speed[corner] * self.per_ratio[corner]
            second = max(second, min(first, wheel))
            first = max(first, wheel)

        lately = hold(memory.lately, now.airborne, self.within_ticks)
        if now.airborne > 0.5 and memory.flew < 0.5:
            memory.left, memory.light, memory.landed = 0.0, 0.0, 0.0  # a new flight: the last landing is over
        light = 1.0 if felt < self.on_force else memory.light  # springs push until the shafts are out
        memory.flew, memory.light = now.airborne, light
        if min(lately, memory.light) > 0.5 and felt > (self.on_force if memory.landed < 0.5 else self.blow_force):
            memory.left, memory.landed = self.stays_ticks + 1.0, 1.0
        elif memory.left > 0.0:
            memory.left -= 1.0
        landing, memory.since = 1.0 if memory.left > 0.0 else 0.0, memory.since + now.dt if flying else 0.0
        if landing > 0.5:
            memory.speed = max(memory.speed, second) if lately > 0.5 else memory.speed
        elif flying:
            memory.air = memory.since
            memory.speed = max(closing, self.level_share * 0.5 * STANDARD_GRAVITY * (memory.air + self.told_late))
        else:
            memory.air, memory.speed = 0.0, 0.0
        severity = min(max((memory.speed - self.gentle) * self.per_speed, 0.0), 1.0)
        out.landing, out.landing_strength = landing, severity
        out.landing_speed, out.landing_severity = memory.speed, severity
        out.air_time = memory.air + self.told_late if memory.air > 0.0 else 0.0
