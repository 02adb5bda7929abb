"""The shipped laws set as their papers state them: the damper's whole range, no dead band, no smoothing of the acceleration."""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from strategies.laws.acceleration_driven import AccelerationDriven
from strategies.laws.fixed_duty import FixedDuty
from strategies.laws.groundhook import Groundhook
from strategies.laws.groundhook_on_off import GroundhookOnOff
from strategies.laws.hybrid_hook import HybridHook
from strategies.laws.power_driven import PowerDriven
from strategies.laws.skyhook_and_acceleration import SkyhookAndAcceleration
from strategies.laws.skyhook_on_off import SkyhookOnOff
from strategies.laws.skyhook_two_way import SkyhookTwoWay
from tests.strategies.laws.quarter_car import Corner, by_case

WHOLE_RANGE: Final = {"soft_compression": 0.0, "soft_rebound": 0.0, "firm_compression": 1.0, "firm_rebound": 1.0}
CROSSOVER: Final = 1.9  # Hz, 11.9 rad/s; over sines on-off skyhook and acceleration-driven change places at 1.4 Hz


def skyhook_on_off(firm: Any = 1.0) -> SkyhookOnOff:
    """On-off skyhook between soft and `firm`, which may differ by case."""
    return SkyhookOnOff(**{**WHOLE_RANGE, "firm_compression": firm, "firm_rebound": firm}, dead_speed=0.0)


def skyhook(damping: Any = 4000.0) -> SkyhookTwoWay:
    """Continuous skyhook."""
    return SkyhookTwoWay(damping=damping, dead_speed=0.0)


def acceleration_driven() -> AccelerationDriven:
    """ADD."""
    return AccelerationDriven(**WHOLE_RANGE, smooth_hz=1000.0, dead_acceleration=0.0)


def skyhook_and_acceleration(crossover_hz: Any = CROSSOVER, firm: Any = 1.0) -> SkyhookAndAcceleration:
    """SH-ADD between soft and `firm`; both may differ by case."""
    duties = {**WHOLE_RANGE, "firm_compression": firm, "firm_rebound": firm}
    return SkyhookAndAcceleration(**duties, crossover_hz=crossover_hz, smooth_hz=1000.0, dead_speed=0.0)


def power_driven() -> PowerDriven:
    """PDD."""
    return PowerDriven(spring_share=1.0)


def hybrid(share: Any) -> HybridHook:
    """Hybrid of both hooks."""
    return HybridHook(damping=4000.0, sky_share=share, dead_speed=0.0)


CONTINUOUS: Final[dict[str, Any]] = {
    "skyhook": skyhook(),
    "groundhook": Groundhook(damping=4000.0, dead_speed=0.0),
    "hybrid": hybrid(0.5),
    "power-driven": power_driven(),
}
TWO_STATE: Final[dict[str, Any]] = {
    "on-off skyhook": skyhook_on_off(),
    "on-off groundhook": GroundhookOnOff(**WHOLE_RANGE, dead_speed=0.0),
    "acceleration-driven": acceleration_driven(),
    "skyhook and acceleration": skyhook_and_acceleration(),
}
ALL: Final[dict[str, Any]] = {**CONTINUOUS, **TWO_STATE}


def passive(damping: Any, corner: Corner) -> FixedDuty:
    """A fixed coefficient per case, as a fixed duty on both sides."""
    duty = by_case((np.asarray(damping, float) - corner.soft) / (corner.firm - corner.soft))
    return FixedDuty(compression=duty, rebound=duty)
