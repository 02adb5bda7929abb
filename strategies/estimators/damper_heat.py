"""Oil temperature of each damper, from the power it turns into heat."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from dualduty.contract import quantity
from dualduty.each_tick import each_tick
from dualduty.parameters import Axis, param, surface

_SPEED: Final = Axis("shaft_speed", "m/s", "m/s")
_DUTY: Final = Axis("duty", "1", "%")
_SPEEDS: Final = (0.0, 0.1, 0.3, 1.0, 3.0)
_DUTIES: Final = (0.0, 0.5, 1.0)


@each_tick
@dataclass(frozen=True)
class DamperHeat:
    """Heat balance of a damper: force at the shaft speed and applied duty, times that speed, warms it; air cools it.

    capacity T' = |force| |speed| - (cooling + draught x vehicle speed) (T - air). The force is read from two coarse surfaces over
    speed and duty, plus friction; oil that is warm gives less (`fade`). It starts at `start` with no idea how hot the damper is:
    after a stop it must be told, or it is off for some minutes (capacity / cooling, 5 min in still air).

    Noise of the shaft speed makes a few watts: below half a degree.
    """

    compression: Any = surface(
        (_SPEED, _DUTY), (_SPEEDS, _DUTIES),
        [[0.0, 0.0, 0.0], [128.0, 445.0, 882.0], [295.0, 975.0, 1900.0], [765.0, 1920.0, 3500.0], [1990.0, 3750.0, 6150.0]],
        "N", 0.0, 5e4, "force against compression", by_corner=True,
    )  # fmt: skip
    rebound: Any = surface(
        (_SPEED, _DUTY), (_SPEEDS, _DUTIES),
        [[0.0, 0.0, 0.0], [202.0, 662.0, 1300.0], [465.0, 1420.0, 2760.0], [1110.0, 2860.0, 5200.0], [2700.0, 5200.0, 8800.0]],
        "N", 0.0, 5e4, "force against rebound", by_corner=True,
    )  # fmt: skip
    friction: float = param(35.0, "N", 0.0, 1e3, "friction along the shaft", by_corner=True)
    fade: float = param(0.0015, "1/K", 0.0, 0.02, "loss of force with temperature above `start`", said="%/K")
    capacity: float = param(2600.0, "J/K", 10.0, 1e5, "heat that oil and metal take up", by_corner=True)
    cooling: float = param(9.0, "W/K", 0.0, 1e3, "heat given to still air", by_corner=True)
    draught: float = param(0.8, "W/K", 0.0, 100.0, "more of it per m/s of speed", by_corner=True)
    air: float = param(20.0, "°C", -40.0, 60.0, "temperature of the air")
    start: float = param(40.0, "°C", -40.0, 150.0, "temperature at the start")

    gives = (quantity("damper_temperature", "°C", "oil temperature, estimated"),)

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """Oil temperature. [°C]"""
        for corner in range(4):
            speed = now.shaft_speed[corner]
            if speed > 0.0:
                force = self.compression[corner](speed, now.applied_compression[corner])
            else:
                force = self.rebound[corner](-speed, now.applied_rebound[corner])
            left = max(1.0 - self.fade * memory.rise[corner], 0.2)
            power = (left * force + self.friction[corner]) * abs(speed)
            cooling = self.cooling[corner] + self.draught[corner] * abs(now.vehicle_speed)
            warmer = self.start - self.air + memory.rise[corner]
            memory.rise[corner] += now.dt * (power - cooling * warmer) / self.capacity[corner]
            out.damper_temperature[corner] = self.start + memory.rise[corner]
