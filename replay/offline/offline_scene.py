"""What a log shows when it is looked at afterwards: its signals on one even grid, smoothed without lag, and what follows from them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final, Self

import numpy as np
from numpy.typing import NDArray

from dualduty.car import Car
from dualduty.errors import BadInput
from dualduty.signals import SIDES
from dualduty.truth_gates import bridged, centred_mean, filled
from dualduty.units import STANDARD_GRAVITY
from replay.log import Log
from replay.offline.wheel_loads import wheel_loads
from replay.raw_signals import RawSignal, raw_signals

Array = NDArray[np.float64]
Gate = NDArray[np.bool_]

READ: Final = (
    "shaft_travel", "specific_force_z", "roll_rate", "pitch_rate", "yaw_rate", "wheel_speed", "brake", "throttle", "applied_compression",
    "applied_rebound",
)  # fmt: skip
LIGHT: Final = 0.12  # of the weight: less than this carries nothing; ours, see `load`
LONGEST_GAP: Final = 0.1  # s; a straight line over more than this is nothing to judge by
HIGHEST_RATE: Final = 500.0  # Hz; nothing here moves faster than a wheel hops
SMOOTH: Final = 20.0  # Hz; ours: above wheel hop, and a second derivative of usual travel sensors is still below a tenth of the weight
_UNSPRUNG_SHARE: Final = 0.16  # of the mass; where no vehicle is known, usual of light off-road cars (common practice)
_MOTION_RATIO: Final = 0.63  # likewise


@dataclass(frozen=True)
class Body:
    """Of the vehicle, what the total of the tyre forces needs: shares of its mass, (4,) for the wheels, and motion ratios, (4,)."""

    sprung: float
    unsprung: Array
    motion_ratio: Array

    @classmethod
    def of(cls, car: Car | None) -> Self:
        """That of a car, or usual numbers."""
        if car is None:
            return cls(1.0 - _UNSPRUNG_SHARE, np.full(4, _UNSPRUNG_SHARE / 4.0), np.full(4, _MOTION_RATIO))
        unsprung = np.broadcast_to(np.asarray(car.unsprung_mass, float).ravel(), 4)
        mass = car.sprung_mass + float(unsprung.sum())
        ratio = np.broadcast_to(np.asarray(car.motion_ratio, float).ravel(), 4)
        return cls(car.sprung_mass / mass, unsprung / mass, ratio)


@dataclass(frozen=True)
class Scene:
    """A log on an even grid.

    start, dt : float
        Time of the first sample since the log's first stamp, and the step. [s]
    signals : dict of (corner, time) arrays
        Gaps bridged by straight lines. [SI]
    known : dict of (time,) bool arrays
        Where each signal is not within a gap that is too long to be bridged.
    """

    start: float
    dt: float
    signals: dict[str, Array]
    known: dict[str, Gate]
    car: Car | None = None

    @classmethod
    def of(cls, log: Log, car: Car | None = None) -> Self:
        """All of a log at once; a signal that lacks a corner is left out."""
        corners = {signal.name: signal.corners for signal in log.layout.signals}
        found = {name: rows for name, rows in raw_signals(log, READ).items() if len(rows) == corners[name]}
        if not found:
            raise BadInput(log.name, f"has none of the signals that tell a state: {', '.join(READ)}")
        return cls.of_rows(found, car)

    @classmethod
    def of_rows(cls, found: Mapping[str, Sequence[RawSignal]], car: Car | None = None) -> Self:
        """Signals at their own rates, a row per corner, brought to the rate of the fastest."""
        rows = [row for each in found.values() for row in each if len(row.time)]
        start, end = min(float(row.time[0]) for row in rows), max(float(row.time[-1]) for row in rows)
        dt = max(min((float(np.median(np.diff(row.time))) for row in rows if len(row.time) > 1), default=1.0), 1.0 / HIGHEST_RATE)
        grid = np.asarray(start + dt * np.arange(int((end - start) / dt + 1.5)), dtype=np.float64)
        signals = {name: np.stack([_on_grid(row, grid) for row in each]) for name, each in found.items()}
        known = {name: np.logical_and.reduce([_known(row, grid) for row in each]) for name, each in found.items()}
        return cls(start, dt, signals, known, car)

    def has(self, *names: str) -> bool:
        """True when all of these signals are there."""
        return all(name in self.signals for name in names)

    @property
    def known_car(self) -> Car:
        """The car; BadInput where none is known."""
        if self.car is None:
            raise BadInput("vehicle", "expected the numbers of a vehicle, none is known")
        return self.car

    def known_all(self, names: Sequence[str]) -> Gate:
        """Where all of these signals are known; (time,)."""
        return np.asarray(np.logical_and.reduce([self.known[name] for name in names]))

    def row(self, name: str) -> Array:
        """A vehicle quantity, (time,). [SI]"""
        return np.asarray(self.signals[name][0])

    @property
    def samples(self) -> int:
        """Length of the grid."""
        return int(next(iter(self.signals.values())).shape[1])

    @cached_property
    def speed(self) -> Array:
        """Speed over ground, (time,): the mean of the two wheels in the middle, so that one that spins or locks is left out. [m/s]

        Notes
        -----
        In the air driven wheels run away together: where no wheel carries anything, a straight line stands in.
        """
        middle = np.sort(self.signals["wheel_speed"], axis=0)[1:3].mean(axis=0)
        if not self.has("shaft_travel", "specific_force_z"):
            return np.asarray(middle)
        blind = np.asarray(self.load < LIGHT)
        return np.asarray(middle) if blind.all() else filled(np.where(bridged(blind, 0.05, self.dt), np.nan, middle))

    @cached_property
    def hub_acceleration(self) -> Array:
        """Acceleration of each wheel against the body, up positive, (4, time). [m/s²]"""
        ratio = Body.of(self.car).motion_ratio[:, None]
        return self._rate(self._rate(self.smooth(self.signals["shaft_travel"], SMOOTH) / ratio))

    @cached_property
    def load(self) -> Array:
        """What the ground carries of the car, (time,), as a share of its weight; 0 in flight, whatever springs and dampers do.

        Notes
        -----
        Newton's law for the whole car: the sprung mass times its specific force, and each wheel's mass times its own, which is the body's
        plus its acceleration in the arch. The forces of springs and dampers are inside and cancel. Turns of the body cancel but for
        the wheels' lever arms.
        """
        body = Body.of(self.car)
        felt = self.smooth(self.row("specific_force_z"), SMOOTH)
        wheels = np.einsum("c,ct->t", body.unsprung, felt + self.hub_acceleration)
        return np.asarray((body.sprung * felt + wheels) / STANDARD_GRAVITY)

    @cached_property
    def wheel_load(self) -> Array:
        """What each wheel carries as a share of its static load, (4, time); needs a car."""
        travel = self.smooth(self.signals["shaft_travel"], SMOOTH)
        hub = self.smooth(self.row("specific_force_z"), SMOOTH) + self.hub_acceleration
        duty = {side: self.signals[f"applied_{side}"] for side in SIDES if self.has(f"applied_{side}")}
        return wheel_loads(self.known_car, travel, hub, self.load, self.dt, duty)

    @cached_property
    def lateral(self) -> Array:
        """Yaw rate times speed, mean of 0.2 s, left positive, (time,). [m/s²]"""
        return centred_mean(self.row("yaw_rate") * self.speed, 0.2, self.dt)

    @cached_property
    def forward(self) -> Array:
        """Rate of change of speed, mean of 0.2 s, (time,). [m/s²]"""
        return centred_mean(self._rate(self.smooth(self.speed, 8.0)), 0.2, self.dt)

    def _rate(self, values: Array) -> Array:
        """Rate of change along the last axis; of a single sample, none."""
        return np.asarray(np.gradient(values, self.dt, axis=-1)) if values.shape[-1] > 1 else np.zeros_like(values)

    def smooth(self, values: Array, hz: float) -> Array:
        """Low-pass both ways through time, so nothing comes late; along the last axis."""
        from scipy.signal import butter, sosfiltfilt

        if hz >= 0.45 / self.dt or values.shape[-1] < 2:  # noqa: PLR2004 - nothing to smooth
            return values
        sos = butter(2, hz, fs=1.0 / self.dt, output="sos")
        return np.asarray(sosfiltfilt(sos, values, axis=-1, padlen=min(values.shape[-1] - 1, round(1.0 / (hz * self.dt)) * 3)))

    def band(self, values: Array, low: float, high: float) -> Array:
        """Band-pass both ways through time; along the last axis."""
        from scipy.signal import butter, sosfiltfilt

        if low >= 0.45 / self.dt or values.shape[-1] < 2:  # noqa: PLR2004 - nothing of the band is in it
            return np.zeros_like(values)
        sos = butter(2, (low, min(high, 0.45 / self.dt)), "bandpass", fs=1.0 / self.dt, output="sos")
        return np.asarray(sosfiltfilt(sos, values, axis=-1, padlen=min(values.shape[-1] - 1, round(1.0 / (low * self.dt)))))


def _on_grid(row: RawSignal, grid: Array) -> Array:
    good = np.isfinite(row.values)
    return np.interp(grid, row.time[good], row.values[good]) if good.any() else np.zeros(len(grid))


def _known(row: RawSignal, grid: Array) -> Gate:
    """Not in a gap between two values longer than what is bridged, nor before the first or after the last."""
    time = row.time[np.isfinite(row.values)]
    if len(time) == 0:
        return np.zeros(len(grid), dtype=bool)
    edges = np.concatenate([[-np.inf], time, [np.inf]])
    after = np.searchsorted(edges, grid, "right")
    gap = edges[np.minimum(after, len(edges) - 1)] - edges[after - 1]
    return np.asarray((gap <= LONGEST_GAP) | (edges[after - 1] == grid))
