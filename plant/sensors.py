"""What lies between truth and the controller: noise, offset, resolution and dropouts, the same for every candidate."""

from __future__ import annotations

import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.errors import BadInput
from dualduty.signals import CONTROLLER_LAYOUT
from dualduty.trace import Case

Array = NDArray[np.float64]


@dataclass(frozen=True)
class SensorError:
    """Error of one channel, in its SI unit.

    `noise` is the standard deviation, `offset` the standard deviation of a constant drawn once per case and corner,
    `grid` the resolution (0: none), `dropout` the share of ticks that give nothing.
    """

    noise: float = 0.0
    offset: float = 0.0
    grid: float = 0.0
    dropout: float = 0.0


_DEG: Final = np.pi / 180.0
# Common practice for such sensors; no particular part was looked up.
TYPICAL: Final = {
    "shaft_travel": SensorError(noise=0.3e-3, offset=1.0e-3, grid=0.1e-3),
    "specific_force_x": SensorError(noise=0.15, offset=0.1, grid=0.01),
    "specific_force_y": SensorError(noise=0.15, offset=0.1, grid=0.01),
    "specific_force_z": SensorError(noise=0.15, offset=0.1, grid=0.01),
    "roll_rate": SensorError(noise=0.2 * _DEG, offset=0.1 * _DEG, grid=0.01 * _DEG),
    "pitch_rate": SensorError(noise=0.2 * _DEG, offset=0.1 * _DEG, grid=0.01 * _DEG),
    "yaw_rate": SensorError(noise=0.2 * _DEG, offset=0.1 * _DEG, grid=0.01 * _DEG),
    "wheel_speed": SensorError(noise=0.03, grid=0.01),
    "steer_angle": SensorError(noise=0.02 * _DEG, offset=0.1 * _DEG, grid=0.05 * _DEG),
    "brake": SensorError(grid=0.002),
    "throttle": SensorError(grid=0.002),
}


@dataclass(frozen=True)
class Sensors:
    """Errors by channel; none where a channel isn't listed. `seed` is joined with each case's own."""

    errors: Mapping[str, SensorError] = field(default_factory=dict)
    seed: int = 0

    def __post_init__(self) -> None:
        for name, error in self.errors.items():
            if name not in CONTROLLER_LAYOUT.rows:
                raise BadInput("sensors", f"no channel {name!r}; expected one of {', '.join(CONTROLLER_LAYOUT.names)}")
            if min(error.noise, error.offset, error.grid, error.dropout) < 0.0 or error.dropout > 1.0:
                raise BadInput(f"sensors: {name}", f"expected sizes of 0 or more and a dropout of at most 1, came {error}")

    @classmethod
    def typical(cls, seed: int = 0) -> Sensors:
        """Sensors as one finds them on such a vehicle (common practice)."""
        return cls(TYPICAL, seed)

    def per_row(self, name: str) -> Array:
        """A field of the errors by row of CONTROLLER_LAYOUT, a (row,) array."""
        values = np.zeros(CONTROLLER_LAYOUT.size)
        for channel, error in self.errors.items():
            values[CONTROLLER_LAYOUT.rows[channel]] = getattr(error, name)
        return values


class Disturbance:
    """The errors of all cases, chunk after chunk; a case's depend on its section and seed, not on who drives it."""

    def __init__(self, sensors: Sensors, cases: Sequence[Case]) -> None:
        self.grid = sensors.per_row("grid")
        self._noise, self._dropout = sensors.per_row("noise"), sensors.per_row("dropout")
        self._silent = not self._noise.any() and not self._dropout.any()
        seeds = [(sensors.seed, case.seed, zlib.crc32(case.section.encode())) for case in cases]
        self._random = [np.random.default_rng(list(seed)) for seed in seeds]
        drawn = np.stack([random.standard_normal(CONTROLLER_LAYOUT.size) for random in self._random], axis=-1)
        self._offset = sensors.per_row("offset")[:, None] * drawn

    def take(self, ticks: int) -> Array:
        """Errors of the next ticks, (row, time, case); NaN where a channel gives nothing. [SI]"""
        out = np.repeat(self._offset[:, None, :], ticks, axis=1)
        if self._silent:
            return out
        for case, random in enumerate(self._random):
            # time first, so that the numbers drawn for a tick don't depend on how time is cut
            drawn = random.standard_normal((ticks, CONTROLLER_LAYOUT.size, 2))
            out[:, :, case] += self._noise[:, None] * drawn[:, :, 0].T
            lost = _quantile(self._dropout)[:, None] > drawn[:, :, 1].T
            out[:, :, case][lost] = np.nan
        return out


def _quantile(share: Array) -> Array:
    """Below which a standard normal number falls with the given probability, a (row,) array."""
    from scipy.special import ndtri

    return np.asarray(ndtri(share), float)
