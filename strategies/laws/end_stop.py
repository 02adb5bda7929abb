"""End stop: spend the remaining travel so that the shaft arrives at the stop slowly, and don't let it kick back."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from dualduty.cells import hold, slew
from dualduty.each_tick import each_tick, ticks
from dualduty.parameters import param
from dualduty.units import STANDARD_GRAVITY


@each_tick
@dataclass(frozen=True)
class EndStop:
    """Force that stops the shaft just at the stop it moves towards: compression before the bump stop, rebound before the droop stop.

    After an approach to the bump stop the rebound side takes up a share of the spring's push for a while, so that the
    stored energy doesn't come back as a kick. Use with `raise`, when bump_approach or droop_approach, and a fade-out at
    least as long as `kick_for` plus `kick_release`: the rebound floor has to outlive the approach.

    Ungated it is a floor that grows with the square of the speed: at corrugation's 0.3 to 0.5 m/s less than a base of 30 %
    gives, at 1 m/s and 110 mm left some 2 kN; hold it back by its states where that is harsh. Not as the only means of a big
    landing: it starts when the shaft moves, and a valve takes 10 to 20 ms; stand ready with FlightPreset. Full force early is
    not the softest landing, which is why this asks for no more than needed.

    Notes
    -----
    Energy: of a mass M that closes at v with s left, M v² / 2 = F s. Seen from the shaft, motion_ratio MR: mass M / MR².
    Bump: F = (M / MR²) v² / (2 max(s, reserve)) less the spring's force over static, which works along; above ride height
    the weight pulls more than the spring holds and that adds, at most by as much as the speed does: a shaft that hardly moves
    is asked for nothing. M is the corner's sprung mass, static wheel load / g - unsprung mass.
    Droop: the same with the unsprung mass and no spring: in flight the wheel is what moves, and near the droop stop the spring
    is slack or nearly so. A force that follows the formula keeps the deceleration constant.
    Kick: rebound = kick_share x net spring force; at 1 the damper carries all the spring's push and the shaft creeps back at a
    constant speed. The push of the bump rubber is not in it.

    References
    ----------
    Elementary mechanics. Related: D. E. McManus et al., semi-active seat suspension end-stop control, 2002 (from memory).
    """

    bump_share: float = param(1.0, "1", 0.0, 3.0, "share of the energy form asked before the bump stop", said="pct", by_corner=True)
    droop_share: float = param(1.0, "1", 0.0, 3.0, "share of the energy form asked before the droop stop", said="pct", by_corner=True)
    reserve: float = param(0.015, "m", 0.002, 0.1, "remaining travel below which the demand no longer grows", said="mm")
    kick_share: float = param(0.7, "1", 0.0, 1.5, "share of net spring force taken up in rebound afterwards", said="pct", by_corner=True)
    kick_force: float = param(1000.0, "N", 50.0, 20000.0, "demand before the bump stop from which the rebound floor follows")
    kick_for: float = param(0.2, "s", 0.0, 2.0, "how long the rebound floor stands after the last such demand", said="ms")
    kick_release: float = param(0.1, "s", 0.0, 2.0, "time in which it then goes", said="ms")
    droop_contact: float = param(0.0, "m", -0.02, 0.4, "shaft travel at which the droop stop is touched", said="mm", by_corner=True)
    bump_contact: float = param(0.22, "m", 0.01, 1.0, "shaft travel at the bump stop", said="mm", by_corner=True, from_car="bump_contact")
    motion_ratio: float = param(0.6, "1", 0.2, 1.5, "shaft travel per wheel travel", by_corner=True, from_car="motion_ratio")
    unsprung_mass: float = param(38.0, "kg", 5.0, 300.0, "unsprung mass", by_corner=True, from_car="unsprung_mass")
    static_wheel_load: float = param(
        2300.0, "N", 100.0, 50000.0, "wheel load standing at ride height", by_corner=True, from_car="static_wheel_load"
    )

    returns = "Force"

    def prepared(self, dt: float) -> dict[str, Any]:
        """Half the masses as felt at the shaft, times their shares; steps per tick."""
        felt = 0.5 / np.square(self.motion_ratio)
        body = np.maximum(np.subtract(np.divide(self.static_wheel_load, STANDARD_GRAVITY), self.unsprung_mass), 0.0)
        return {
            "half_body": np.multiply(self.bump_share, body * felt),
            "half_wheel": np.multiply(self.droop_share, np.multiply(self.unsprung_mass, felt)),
            "kick_ticks": ticks(self.kick_for, dt),
            "fall": dt / np.maximum(self.kick_release, dt),
        }

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """Force of both sides. [N]"""
        for corner in range(4):
            speed = now.shaft_speed[corner]
            pushes = now.net_spring_force[corner]
            bump = droop = 0.0
            if speed > 0.0:
                left = max(self.bump_contact[corner] - now.shaft_travel[corner], self.reserve)
                kinetic = self.half_body[corner] * speed * speed / left
                bump = max(kinetic + min(-self.bump_share[corner] * pushes, kinetic), 0.0)
            elif speed < 0.0:
                left = max(now.shaft_travel[corner] - self.droop_contact[corner], self.reserve)
                droop = self.half_wheel[corner] * speed * speed / left
            lately = hold(memory.lately[corner], 1.0 if bump >= self.kick_force else 0.0, self.kick_ticks)
            floor = slew(memory.floor[corner], lately, 1.0, self.fall)
            out.compression[corner] = bump
            out.rebound[corner] = max(droop, floor * self.kick_share[corner] * pushes)
