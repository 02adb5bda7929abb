"""The tyre: vertical spring that can't pull, the rim behind it, and one grip shared between both slips."""

from __future__ import annotations

from math import sqrt
from typing import Any, Final

from dualduty.kernels import inline
from plant.rows import Number

CRAWL: Final = 1.0  # m²/s², under the root of the rolling speed, so that slip stays damped down to standstill


@inline
def wheel_load(case: Any, corner: int, deflection: float, deflection_speed: float) -> Number:
    """Vertical tyre force at a deflection [m] and its rate [m/s]; 0 off the ground, never a pull. [N]"""
    if deflection <= 0.0:
        return 0.0
    rim = case.rim_rate[corner] * max(deflection - case.rim_contact[corner], 0.0)
    return max(case.tyre_rate[corner] * deflection + rim + case.tyre_damping[corner] * deflection_speed, 0.0)


@inline
def grip_forces(case: Any, corner: int, load: float, slips: tuple[float, float]) -> tuple[float, float]:
    """Forces along and across the wheel [N] at a load [N] and its slips along and across [1].

    Combined slip by similarity: both slips, each over its scale, point where the force points; their length fills the
    grip along x / sqrt(1 + x²). Friction falls and both scales grow with load. Similarity: Pacejka, "Tire and Vehicle
    Dynamics", ch. 3 (from memory); the curve is ours, chosen smooth.
    """
    over = load * case.per_static_wheel_load[corner] - 1.0
    limit = case.grip * max(1.0 - case.grip_fade * over, 0.5) * load
    stretch = 1.0 if case.slip_growth == 0.0 else 1.0 / max(1.0 + case.slip_growth * over, 0.3)
    along, across = slips[0] * stretch * case.per_drive_slip_scale, slips[1] * stretch * case.per_slip_scale
    share = limit / sqrt(1.0 + along * along + across * across)
    return share * along, -share * across


@inline
def slip_rate(case: Any, sliding: float, speed: float, slip: float) -> Number:
    """Rate of a relaxed slip: it follows the sliding speed over the rolling speed [m/s] within the relaxation length. [1/s]"""
    return (sliding - sqrt(speed * speed + CRAWL) * slip) * case.per_relaxation
