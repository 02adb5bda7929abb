"""Every signal of the bench, declared once: name, unit, axis, rest value, believable range, and who can see it.

Corners are front-left, front-right, rear-left, rear-right, in this order. Signals marked `seen` reach the vehicle's
controller; the others are instrumentation, which a law may not read.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.units import STANDARD_GRAVITY

Array = NDArray[np.float64]

CORNERS: Final = ("front_left", "front_right", "rear_left", "rear_right")
CORNER_LABELS: Final = ("front-left", "front-right", "rear-left", "rear-right")
SIDES: Final = ("compression", "rebound")
ROLES: Final[dict[str, tuple[int, ...]]] = {
    "front": (0, 1), "rear": (2, 3), "left": (0, 2), "right": (1, 3),
    "front_left": (0,), "front_right": (1,), "rear_left": (2,), "rear_right": (3,),
}  # fmt: skip
MIRRORED_CORNERS: Final = (1, 0, 3, 2)


@dataclass(frozen=True)
class Signal:
    """What a channel means.

    `rest` replaces a bad first sample; `low`, `high` and `rate` (per second) bound what is believed;
    `mirror` is -1 for quantities that change sign when left and right are exchanged. SI units throughout;
    `said` is the unit shown to people.
    """

    name: str
    unit: str
    said: str
    corners: int
    rest: float
    low: float
    high: float
    rate: float
    meaning: str
    mirror: int = 1
    seen: bool = True


_G = STANDARD_GRAVITY
CONTROLLER_SIGNALS: Final = (
    Signal("shaft_travel", "m", "mm", 4, 0.15, -0.02, 0.60, 12.0, "damper shaft travel, 0 at full extension, positive in compression"),
    Signal("specific_force_x", "m/s²", "g", 1, 0.0, -16 * _G, 16 * _G, 4e4, "specific force of the body, forward"),
    Signal("specific_force_y", "m/s²", "g", 1, 0.0, -16 * _G, 16 * _G, 4e4, "specific force of the body, left", -1),
    Signal("specific_force_z", "m/s²", "g", 1, _G, -16 * _G, 16 * _G, 4e4, "specific force of the body, up; +g at rest, 0 in free fall"),
    Signal("roll_rate", "rad/s", "deg/s", 1, 0.0, -10.0, 10.0, 2000.0, "body roll rate, right side down positive", -1),
    Signal("pitch_rate", "rad/s", "deg/s", 1, 0.0, -10.0, 10.0, 2000.0, "body pitch rate, nose down positive"),
    Signal("yaw_rate", "rad/s", "deg/s", 1, 0.0, -5.0, 5.0, 1000.0, "body yaw rate, left turn positive", -1),
    Signal("wheel_speed", "m/s", "km/h", 4, 0.0, -5.0, 90.0, 3000.0, "circumferential speed of each wheel"),
    Signal("steer_angle", "rad", "deg", 1, 0.0, -0.8, 0.8, 20.0, "road-wheel steer angle, left positive", -1),
    Signal("brake", "1", "%", 1, 0.0, -0.05, 1.05, 100.0, "brake demand, share of full"),
    Signal("throttle", "1", "%", 1, 0.0, -0.05, 1.05, 100.0, "throttle demand, share of full"),
    Signal("applied_compression", "1", "%", 4, 0.0, -0.05, 1.05, 1e4, "compression duty applied during the last tick"),
    Signal("applied_rebound", "1", "%", 4, 0.0, -0.05, 1.05, 1e4, "rebound duty applied during the last tick"),
    Signal("driver_trim", "1", "1", 1, 0.0, -10.0, 10.0, 1e6, "steps by which the driver asks for firmer (+) or softer (-) dampers"),
)  # fmt: skip

INSTRUMENTATION: Final = (
    Signal("seat_specific_force_z", "m/s²", "g", 1, _G, -30 * _G, 30 * _G, 1e5, "specific force at the seat, up", seen=False),
    Signal("hub_specific_force_z", "m/s²", "g", 4, _G, -100 * _G, 100 * _G, 1e6, "specific force of each hub, up", seen=False),
)  # fmt: skip

TRUTH: Final = (
    Signal("seat_acceleration_z", "m/s²", "g", 1, 0.0, -1e4, 1e4, 1e9, "vertical acceleration at the seat, without gravity", seen=False),
    Signal("body_acceleration_z", "m/s²", "g", 1, 0.0, -1e4, 1e4, 1e9, "vertical acceleration at the centre of gravity", seen=False),
    Signal("wheel_load", "N", "kN", 4, 0.0, 0.0, 1e6, 1e9, "vertical tyre force", seen=False),
    Signal("stop_force", "N", "kN", 4, 0.0, -1e6, 1e6, 1e9, "force of bump stop (+) or droop stop (-) at the shaft", seen=False),
    Signal("true_travel", "m", "mm", 4, 0.15, -1.0, 2.0, 1e9, "shaft travel without sensor error", seen=False),
    Signal("true_shaft_speed", "m/s", "m/s", 4, 0.0, -50.0, 50.0, 1e9, "shaft speed, compression positive", seen=False),
    Signal("damper_force", "N", "kN", 4, 0.0, -1e6, 1e6, 1e9, "damper shaft force, positive resists compression", seen=False),
    Signal("beyond_map", "1", "1", 4, 0.0, 0.0, 1.0, 1e9, "1 where a damper's map is extrapolated beyond its tested speeds", seen=False),
    Signal("oil_temperature", "°C", "°C", 4, 40.0, -100.0, 500.0, 1e9, "oil temperature of each damper", seen=False),
    Signal("current_compression", "A", "A", 4, 0.0, 0.0, 100.0, 1e9, "coil current of the compression valve", seen=False),
    Signal("current_rebound", "A", "A", 4, 0.0, 0.0, 100.0, 1e9, "coil current of the rebound valve", seen=False),
    Signal("reached_compression", "1", "%", 4, 0.0, 0.0, 1.0, 1e9, "compression duty the valve has reached", seen=False),
    Signal("reached_rebound", "1", "%", 4, 0.0, 0.0, 1.0, 1e9, "rebound duty the valve has reached", seen=False),
    Signal("roll", "rad", "deg", 1, 0.0, -7.0, 7.0, 1e9, "body roll angle against the horizon, right side down positive", -1, seen=False),
    Signal("pitch", "rad", "deg", 1, 0.0, -7.0, 7.0, 1e9, "body pitch angle against the horizon, nose down positive", seen=False),
    Signal("heave", "m", "mm", 1, 0.0, -1e3, 1e3, 1e9, "height of the centre of gravity over the datum", seen=False),
    Signal("speed", "m/s", "km/h", 1, 0.0, -100.0, 100.0, 1e9, "true forward speed", seen=False),
    Signal("distance", "m", "m", 1, 0.0, -1e6, 1e6, 1e9, "distance driven along the section", seen=False),
    Signal("ground_height", "m", "mm", 4, 0.0, -1e3, 1e3, 1e9, "ground height under each wheel", seen=False),
)  # fmt: skip

SIGNALS: Final[dict[str, Signal]] = {s.name: s for s in (*CONTROLLER_SIGNALS, *INSTRUMENTATION, *TRUTH)}


class Layout:
    """Where each signal lies in a stack of rows `(row, time, case)`: one block of rows per signal, in order."""

    def __init__(self, signals: tuple[Signal, ...]) -> None:
        self.signals = signals
        self.names = tuple(s.name for s in signals)
        starts = np.cumsum([0, *(s.corners for s in signals)])
        self.rows: dict[str, slice] = {s.name: slice(int(a), int(a) + s.corners) for s, a in zip(signals, starts, strict=False)}
        self.size = int(starts[-1])

    def split(self, stack: Array) -> dict[str, Array]:
        """Views `(corner, time, case)` of a stack, by name."""
        return {name: stack[rows] for name, rows in self.rows.items()}

    def per_row(self, field: str) -> Array:
        """A numeric field of the signals, repeated for each row: `(row,)` array."""
        return np.repeat([float(getattr(s, field)) for s in self.signals], [s.corners for s in self.signals])


CONTROLLER_LAYOUT: Final = Layout(CONTROLLER_SIGNALS)
TRUTH_LAYOUT: Final = Layout(TRUTH)
