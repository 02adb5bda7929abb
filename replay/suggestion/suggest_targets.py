"""What a channel map may name: every row that a recording is searched for, with the values it usually takes."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Final

from dualduty.signals import CORNERS
from dualduty.units import STANDARD_GRAVITY

_G: Final = STANDARD_GRAVITY
_FELT: Final = ("acceleration", ("g", "m/s²"))
_TURNED: Final = ("angular speed", ("deg/s", "rad/s"))
_SHARE: Final = ("number", ("%", "1"))


@dataclass(frozen=True)
class Target:
    """One row that a map may fill.

    `usual` are the units tried where the log says none; `low` to `high` is what 98 % of its values lie in, our choice [SI];
    `corner` is -1 for the whole vehicle. `family` names rows of one sensor or one kind, which share a unit.
    """

    table: str
    name: str
    dimension: str
    usual: tuple[str, ...]
    low: float
    high: float
    corner: int = -1
    family: str = ""

    @property
    def label(self) -> str:
        """Name for people: `shaft_travel front_left`."""
        name = f"{self.table[:-1]} {self.name}" if self.table in ("commands", "states") else self.name
        return f"{name} {CORNERS[self.corner]}" if self.corner >= 0 else name


@cache
def targets() -> tuple[Target, ...]:
    """All that is looked for, in the order of a map; time and drive mode are found apart."""
    by_corner = (
        ("signals", "shaft_travel", "length", ("mm", "m"), -0.02, 0.6),
        ("signals", "wheel_speed", "speed", ("km/h", "m/s"), -2.0, 70.0),
        ("signals", "applied_compression", *_SHARE, -0.05, 1.05),
        ("signals", "applied_rebound", *_SHARE, -0.05, 1.05),
        ("signals", "hub_specific_force_z", *_FELT, -60 * _G, 60 * _G),
        ("commands", "compression", *_SHARE, -0.05, 1.05),
        ("commands", "rebound", *_SHARE, -0.05, 1.05),
    )
    return (*(Target(*row, corner, f"{row[0]}.{row[1]}") for row in by_corner for corner in range(4)), *_whole_vehicle())


def _whole_vehicle() -> tuple[Target, ...]:
    forces = [Target("signals", f"specific_force_{axis}", *_FELT, -8 * _G, 8 * _G, family="force") for axis in "xyz"]
    rates = [Target("signals", f"{about}_rate", *_TURNED, -10.0, 10.0, family="rate") for about in ("roll", "pitch", "yaw")]
    states = [Target("states", name, "number", ("1",), 0.0, 1.0, family=name) for name in ("airborne", "landing", "cornering", "braking")]
    return (
        *forces,
        *rates,
        Target("signals", "steer_angle", "angle", ("deg", "rad"), -0.8, 0.8, family="steer"),
        Target("signals", "brake", *_SHARE, -0.05, 1.05, family="brake"),
        Target("signals", "throttle", *_SHARE, -0.05, 1.05, family="throttle"),
        Target("signals", "driver_trim", "number", ("1",), -10.0, 10.0, family="trim"),
        Target("signals", "seat_specific_force_z", *_FELT, -15 * _G, 15 * _G, family="seat"),
        *states,
        Target("marker", "marker", "number", ("1",), -1e6, 1e6, family="marker"),
    )
