"""Net spring force of each corner, at the shaft."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from dualduty.contract import quantity
from dualduty.each_tick import each_tick
from dualduty.kernels import inline
from dualduty.parameters import param


@inline
def _pushed(travel: float, contact: float, rate: float, progression: float) -> float:
    """Force of a coil spring that is slack up to `contact`. [N]"""
    pressed = max(travel - contact, 0.0)
    return pressed * (rate + 0.5 * progression * pressed)


@each_tick
@dataclass(frozen=True)
class SpringForce:
    """What the spring pushes beyond the weight it carries: spring force at this travel less that at ride height, up positive.

    With c = contact and x = travel beyond it: rate x + progression x^2 / 2, a second rate from a second contact on, and the
    rate of the gas. Ride height is static travel plus `ride_height_offset`, by as much as `follow_ride_height` says: a law
    that cancels the net spring force pulls the body towards a wrong height for good when the load has changed.

    It knows neither stops nor anti-roll bars; at the stops, don't use it.
    """

    spring_rate: float = param(36e3, "N/m", 1e3, 1e6, "coil spring rate at the shaft", said="N/mm", by_corner=True)
    spring_contact: float = param(
        0.02, "m", -0.5, 0.5, "shaft travel at which the spring touches; below 0: preload", said="mm", by_corner=True
    )
    progression: float = param(0.0, "N/m²", 0.0, 1e7, "growth of the spring rate with travel", said="N/mm²", by_corner=True)
    second_rate: float = param(0.0, "N/m", 0.0, 1e6, "rate of a second spring that joins in", said="N/mm", by_corner=True)
    second_contact: float = param(1.0, "m", 0.0, 1.0, "shaft travel at which it does", said="mm", by_corner=True)
    gas_rate: float = param(420.0, "N/m", 0.0, 1e5, "rate of the damper's gas", by_corner=True)
    static_travel: float = param(0.1, "m", 0.0, 1.0, "shaft travel at ride height", said="mm", by_corner=True, from_car="static_travel")
    follow_ride_height: float = param(1.0, "1", 0.0, 1.0, "share of ride_height_offset that counts as ride height", said="pct")

    gives = (quantity("net_spring_force", "N", "spring force less its value at ride height, at the shaft, pushing the body up positive"),)

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """Net spring force. [N]"""
        for corner in range(4):
            travel = now.shaft_travel[corner]
            level = self.static_travel[corner] + self.follow_ride_height * now.ride_height_offset[corner]
            contact, rate, growth = self.spring_contact[corner], self.spring_rate[corner], self.progression[corner]
            coil = _pushed(travel, contact, rate, growth) - _pushed(level, contact, rate, growth)
            begins, second = self.second_contact[corner], self.second_rate[corner]
            joined = _pushed(travel, begins, second, 0.0) - _pushed(level, begins, second, 0.0)
            out.net_spring_force[corner] = coil + joined + self.gas_rate[corner] * (travel - level)
