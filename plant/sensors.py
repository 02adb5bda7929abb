"""What a vehicle's sensors do to the truth: their errors by channel, how they are mounted, and the faults put in."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.errors import BadInput
from dualduty.parameters import param
from dualduty.signals import SIGNALS
from dualduty.units import STANDARD_GRAVITY
from plant.faults import Fault

Array = NDArray[np.float64]
ByCorner = float | tuple[float, float, float, float]

_NOT_NEGATIVE: Final = ("noise", "offset_spread", "gain_spread", "drift_spread", "corner_hz", "delay", "period", "grid", "dropout")
BY_CORNER: Final = ("offset", "gain")


@dataclass(frozen=True)
class SensorError:
    """Error of one channel, in its SI unit; `plant.sensor_chain` says in which order the parts act.

    What is measured on this vehicle is `offset`, `gain` (one number or four) and `drift` (per second). What is only known
    by its size has `_spread`: the standard deviation of a constant drawn once per case and corner. `low`..`high` is the
    range, `corner_hz` (0: none) and `order` the low-pass filter, `delay` [s] the dead time, `period` [s] the sensor's own
    sampling (0: at every tick), `noise` the standard deviation of a sample, `grid` the resolution (0: none), `dropout` the
    share of samples that give nothing.
    """

    noise: float = 0.0
    offset: ByCorner = 0.0
    offset_spread: float = 0.0
    gain: ByCorner = 1.0
    gain_spread: float = 0.0
    drift: float = 0.0
    drift_spread: float = 0.0
    low: float = -math.inf
    high: float = math.inf
    corner_hz: float = 0.0
    order: int = 1
    delay: float = 0.0
    period: float = 0.0
    grid: float = 0.0
    dropout: float = 0.0


@dataclass(frozen=True)
class Mounting:
    """How the box with accelerometers and gyros sits in the body: turned by yaw, then pitch, then roll, our signs."""

    roll: float = param(0.0, "rad", -0.35, 0.35, "sensor box turned right side down", said="deg")
    pitch: float = param(0.0, "rad", -0.35, 0.35, "sensor box turned nose down", said="deg")
    yaw: float = param(0.0, "rad", -0.35, 0.35, "sensor box turned left", said="deg")

    @property
    def turn(self) -> Array:
        """What the box's axes see of a vector of the body, (3, 3): the transposed rotation of ISO 8855, yaw-pitch-roll."""
        (cr, sr), (cp, sp), (cy, sy) = ((math.cos(angle), math.sin(angle)) for angle in (self.roll, self.pitch, self.yaw))
        about_x = np.array([[1.0, 0.0, 0.0], [0.0, cr, -sr], [0.0, sr, cr]])
        about_y = np.array([[cp, 0.0, sp], [0.0, 1.0, 0.0], [-sp, 0.0, cp]])
        about_z = np.array([[cy, -sy, 0.0], [sy, cy, 0.0], [0.0, 0.0, 1.0]])
        return np.ascontiguousarray((about_z @ about_y @ about_x).T)


_DEG: Final = np.pi / 180.0
_MINUTE: Final = 60.0
_FORCE: Final = SensorError(
    noise=0.15, offset_spread=0.1, gain_spread=0.005, low=-16 * STANDARD_GRAVITY, high=16 * STANDARD_GRAVITY,
    corner_hz=80.0, order=2, delay=1.5e-3, grid=0.01,
)  # fmt: skip
_RATE: Final = SensorError(
    noise=0.2 * _DEG, offset_spread=0.1 * _DEG, gain_spread=0.005, drift_spread=0.02 * _DEG / _MINUTE, low=-300.0 * _DEG, high=300.0 * _DEG,
    corner_hz=80.0, order=2, delay=1.5e-3, grid=0.01 * _DEG,
)  # fmt: skip
_PEDAL: Final = SensorError(low=0.0, high=1.0, delay=4e-3, period=10e-3, grid=0.002)
# Common practice for such sensors; no particular part was looked up. Travel is wired to the controller; the sensor box
# filters against vibration; wheel speeds, steer and pedals come over a bus, every 10 ms and a few milliseconds old.
TYPICAL: Final = {
    "shaft_travel": SensorError(noise=0.3e-3, offset_spread=1.0e-3, gain_spread=0.003, corner_hz=150.0, delay=0.5e-3, grid=0.1e-3),
    **dict.fromkeys(("specific_force_x", "specific_force_y", "specific_force_z"), _FORCE),
    **dict.fromkeys(("roll_rate", "pitch_rate", "yaw_rate"), _RATE),
    "wheel_speed": SensorError(noise=0.03, gain_spread=0.005, low=0.0, delay=8e-3, period=10e-3, grid=0.01),
    "steer_angle": SensorError(noise=0.02 * _DEG, offset_spread=0.1 * _DEG, delay=4e-3, period=10e-3, grid=0.05 * _DEG),
    "brake": _PEDAL,
    "throttle": _PEDAL,
}
# Instrumentation of a test car, as above: piezo-resistive pick-ups at hubs and seat, clamps round the valves' wires.
_PICK_UP: Final = SensorError(noise=0.1, offset_spread=0.1, gain_spread=0.01, corner_hz=200.0, order=2, grid=0.01)
_CLAMP: Final = SensorError(noise=0.01, offset_spread=0.01, gain_spread=0.01, low=-5.0, high=5.0, corner_hz=200.0, grid=2e-3)
INSTRUMENTS: Final = {
    "seat_specific_force_z": replace(_PICK_UP, low=-30 * STANDARD_GRAVITY, high=30 * STANDARD_GRAVITY),
    "hub_specific_force_z": replace(_PICK_UP, noise=1.0, low=-100 * STANDARD_GRAVITY, high=100 * STANDARD_GRAVITY, grid=0.1),
    "current_compression": _CLAMP,
    "current_rebound": _CLAMP,
}


@dataclass(frozen=True)
class Sensors:
    """Errors by channel of `dualduty.signals.SIGNALS`; none where a channel isn't listed. `seed` is joined with each case's own."""

    errors: Mapping[str, SensorError] = field(default_factory=dict)
    seed: int = 0
    faults: tuple[Fault, ...] = ()
    mounting: Mounting = Mounting()

    def __post_init__(self) -> None:
        for name, error in self.errors.items():
            if name not in SIGNALS:
                raise BadInput("sensors", f"no channel {name!r}; expected one of {', '.join(SIGNALS)}")
            check_error(error, SIGNALS[name].corners, f"sensors: {name}")

    @classmethod
    def typical(cls, seed: int = 0) -> Sensors:
        """Sensors as one finds them on such a vehicle (common practice)."""
        return cls(TYPICAL, seed)


def check_error(error: SensorError, corners: int, where: str) -> None:
    """BadInput for an error that no sensor can have."""
    _check_sizes(error, where)
    for name in BY_CORNER:
        values = np.atleast_1d(getattr(error, name))
        if values.shape not in {(1,), (corners,)} or not np.isfinite(values).all():
            raise BadInput(where, f"{name}: expected one number{' or four' if corners > 1 else ''}, came {getattr(error, name)!r}")


def _check_sizes(error: SensorError, where: str) -> None:
    for name in _NOT_NEGATIVE:
        size = getattr(error, name)
        if not 0.0 <= size < math.inf:
            raise BadInput(where, f"{name}: expected 0 or more, came {size!r}")
    if error.dropout > 1.0:
        raise BadInput(where, f"dropout: expected a share of at most 1, came {error.dropout:g}")
    if error.order not in {1, 2}:
        raise BadInput(where, f"order: expected 1 or 2, came {error.order!r}")
    if not error.low < error.high:
        raise BadInput(where, f"low, high: expected a range, came {error.low:g} to {error.high:g}")
    if not np.isfinite(error.drift):
        raise BadInput(where, f"drift: expected a number, came {error.drift!r}")
