"""How an inertial unit sits in the vehicle: which way its axes point, and how far it is from the centre of gravity."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from replay.channels.turning import Turning

Vector = tuple[float, float, float]
Axes = tuple[Vector, Vector, Vector]
FORCES: Final = ("specific_force_x", "specific_force_y", "specific_force_z")
RATES: Final = ("roll_rate", "pitch_rate", "yaw_rate")
DERIVATIVE_HZ: Final = 30.0  # our choice: well above what a body pitches at over whoops, and still quiet with a common gyro
AS_BUILT: Final[Axes] = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))


@dataclass(frozen=True)
class Mounting:
    """An inertial unit in the vehicle.

    axes : (3, 3) nested tuples
        Rows: the vehicle's x (forward), y (left), z (up) in the unit's own axes. [1]
    position : (3,) tuple
        The unit seen from the centre of gravity: forward, left, up. [m]
    derivative_hz : float
        Corner frequency of the first-order lag through which the gyros are differentiated. [Hz]

    Notes
    -----
    What a point at r from the centre of gravity feels is brought there by the kinematics of a rigid body: less w' x r, less
    w x (w x r). w' comes out of the past only and lags by 1 / (2 pi derivative_hz), 5.3 ms at 30 Hz; w x (w x r) does not lag.
    """

    axes: Axes = AS_BUILT
    position: Vector = (0.0, 0.0, 0.0)
    derivative_hz: float = DERIVATIVE_HZ

    @property
    def needs(self) -> tuple[str, ...]:
        """Signals that go into another than themselves; none where the unit sits straight at the centre of gravity."""
        made = {name: self.made_from(name) for name in (*FORCES, *RATES)}
        goes_on = {part for name, parts in made.items() if parts != (name,) or self.axes != AS_BUILT for part in parts}
        return tuple(name for name in made if name in goes_on)

    def made_from(self, name: str) -> tuple[str, ...]:
        """The unit's own signals without which one of the vehicle's has no value."""
        if name in RATES:
            return self._weighty(RATES, RATES.index(name))
        if name not in FORCES:
            return (name,)
        axis = FORCES.index(name)
        beside = any(offset for index, offset in enumerate(self.position) if index != axis)
        about = [other for other in range(3) if any(self.position) and (other != axis or beside)]
        rates = {rate for other in about for rate in self._weighty(RATES, other)}
        return (*self._weighty(FORCES, axis), *(rate for rate in RATES if rate in rates))

    def start(self) -> Turning:
        """Ready for the first sample of a log."""
        from replay.channels.turning import Turning

        return Turning(self)

    def _weighty(self, names: tuple[str, ...], axis: int) -> tuple[str, ...]:
        return tuple(name for name, weight in zip(names, self.axes[axis], strict=True) if weight)
