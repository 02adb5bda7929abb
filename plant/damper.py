"""The damper along the shaft: one map per side, what scales it, friction, what yields in series, and heat."""

from __future__ import annotations

from math import sqrt
from typing import Any, Final

from numpy import float64
from numpy.typing import NDArray

from dualduty.kernels import inline
from plant.damper_table import force_and_slope, zone_multiplier
from plant.rows import OIL, REACHED, Number

Array = NDArray[float64]

LEAST_LEFT: Final = 0.2  # of the force, however hot the oil: beyond it the linear fade means nothing
STIFFEST: Final = 1.5  # relaxation per plant step of what yields in series; RK4 is stable up to 2.78


@inline
def damper_force(case: Any, tables: Array, held: Array, corner: int, at: tuple[float, float]) -> tuple[float, float, float]:
    """Force that resists the shaft, positive against compression [N], its slope over speed [N·s/m], and 1 beyond the tested speeds.

    `at` is shaft travel [m] and the speed that the oil sees [m/s]: its sign picks the side, as the check valves do.
    """
    travel, speed = at
    compression, rebound = held[REACHED + corner], held[REACHED + 4 + corner]
    warm = held[OIL + corner] - case.oil_reference[corner]
    left = max(1.0 - case.oil_fade[corner] * warm, LEAST_LEFT)
    if speed >= 0.0:
        felt = 1.0 + case.compression_crosstalk[corner] * rebound
        scale = left * case.compression_scale[corner] * felt * zone_multiplier(tables, case.compression_zone[corner], travel)
        force, slope, beyond = force_and_slope(tables, case.compression_map[corner], speed, compression)
        return scale * force, scale * slope, beyond
    felt = 1.0 + case.rebound_crosstalk[corner] * compression
    scale = left * case.rebound_scale[corner] * felt * zone_multiplier(tables, case.rebound_zone[corner], travel)
    force, slope, beyond = force_and_slope(tables, case.rebound_map[corner], -speed, rebound)
    return -scale * force, scale * slope, beyond


@inline
def oil_speed_rate(case: Any, corner: int, gap: float, slope: float) -> Number:
    """Rate of the speed that the oil sees; `gap` is how far the shaft is faster [m/s]. [m/s²]

    A spring k in series with a damper of force F(v): k (shaft speed - v) = dF/dt = F'(v) dv/dt (Maxwell's element with a
    curved damper). Where it would settle within a step, it settles as fast as the integrator can follow.
    """
    return gap * min(case.series_rate[corner] / max(slope, 1.0), STIFFEST / case.step)


@inline
def friction_force(case: Any, corner: int, speed: float) -> Number:
    """Friction along the shaft, smoothed through standstill. [N]"""
    return case.friction[corner] * speed / sqrt(speed * speed + case.friction_speed * case.friction_speed)


@inline
def heat_oil(case: Any, corner: int, power: float, draught: float, held: Array) -> None:
    """Warm one damper's oil by a step of dissipated power [W], less what the air takes at a driving speed [m/s]."""
    cooling = case.oil_cooling[corner] + case.oil_draught[corner] * draught
    lost = cooling * (held[OIL + corner] - case.air_temperature)
    held[OIL + corner] += case.step * (power - lost) / case.oil_capacity[corner]
