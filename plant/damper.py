"""The damper along the shaft: one map per side, what scales it, friction, what yields in series, and heat."""

from __future__ import annotations

from math import sqrt
from typing import Any, Final

from numpy import float64
from numpy.typing import NDArray

from dualduty.kernels import inline
from plant.damper_table import map_force, map_speed, zone_multiplier
from plant.rows import OIL, REACHED, Number

Array = NDArray[float64]

LEAST_LEFT: Final = 0.2  # of the force, however hot the oil: beyond it the linear fade means nothing
LEAST_SCALE: Final = 1e-3  # of a map, so that a side without force can still be turned round
LEAST_SLOPE: Final = 1.0  # N·s/m
STIFFEST: Final = 1.5  # relaxation per plant step of what yields in series; RK4 is stable up to 2.78


@inline
def compression_scale(case: Any, tables: Array, held: Array, corner: int, travel: float) -> Number:
    """What the compression map is multiplied with: heat, this damper's scatter, the other valve, and the zone it is in. [1]"""
    felt = 1.0 + case.compression_crosstalk[corner] * held[REACHED + 4 + corner]
    own = case.compression_scale[corner] * felt * zone_multiplier(tables, case.compression_zone[corner], travel)
    return own * heat_left(case, held, corner)


@inline
def rebound_scale(case: Any, tables: Array, held: Array, corner: int, travel: float) -> Number:
    """As `compression_scale`, of the rebound map. [1]"""
    felt = 1.0 + case.rebound_crosstalk[corner] * held[REACHED + corner]
    own = case.rebound_scale[corner] * felt * zone_multiplier(tables, case.rebound_zone[corner], travel)
    return own * heat_left(case, held, corner)


@inline
def heat_left(case: Any, held: Array, corner: int) -> Number:
    """Share of the force that warm oil leaves. [1]"""
    return max(1.0 - case.oil_fade[corner] * (held[OIL + corner] - case.oil_reference[corner]), LEAST_LEFT)


@inline
def damper_force(case: Any, tables: Array, held: Array, corner: int, at: tuple[float, float]) -> tuple[float, float]:
    """Force that resists the shaft, positive against compression [N], and 1 beyond the tested speeds.

    `at` is shaft travel [m] and speed [m/s]: its sign picks the side, as the check valves do.
    """
    travel, speed = at
    if speed >= 0.0:
        force, beyond = map_force(tables, case.compression_map[corner], speed, held[REACHED + corner])
        return compression_scale(case, tables, held, corner, travel) * force, beyond
    force, beyond = map_force(tables, case.rebound_map[corner], -speed, held[REACHED + 4 + corner])
    return -rebound_scale(case, tables, held, corner, travel) * force, beyond


@inline
def oil_speed(case: Any, tables: Array, held: Array, corner: int, at: tuple[float, float]) -> tuple[float, float, float]:
    """Speed at which the damper gives a force [m/s], the slope of force there [N·s/m], and 1 beyond the tested speeds.

    `at` is shaft travel [m] and force [N]: its sign picks the side. The inverse of `damper_force` over speed.
    """
    travel, force = at
    if force >= 0.0:
        scale = max(compression_scale(case, tables, held, corner, travel), LEAST_SCALE)
        speed, slope, beyond = map_speed(tables, case.compression_map[corner], force / scale, held[REACHED + corner])
        return speed, scale * slope, beyond
    scale = max(rebound_scale(case, tables, held, corner, travel), LEAST_SCALE)
    speed, slope, beyond = map_speed(tables, case.rebound_map[corner], -force / scale, held[REACHED + 4 + corner])
    return -speed, scale * slope, beyond


@inline
def series_force_rate(case: Any, corner: int, gap: float, slope: float) -> Number:
    """Rate of the force that a spring in series with a damper carries; `gap` is how far the shaft is faster than the oil [m/s]. [N/s]

    Maxwell's element with a curved damper. Where it would settle within a step, the spring is as soft as the integrator can
    follow: it then lags by two thirds of a step.
    """
    return gap * min(case.series_rate[corner], STIFFEST * max(slope, LEAST_SLOPE) / case.step)


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
