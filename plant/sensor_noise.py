"""Everything random in sensors, drawn in blocks of ticks: the same numbers however time is cut, whoever drives."""

from __future__ import annotations

import zlib
from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.signals import Layout
from dualduty.trace import Case
from plant.faults import SPIKE, Fault
from plant.sensors import SensorError, Sensors

Array = NDArray[np.float64]

BLOCK: Final = 256  # ticks drawn at once: a call of the generator costs as much as some hundred numbers
CONSTANTS: Final = 0  # purposes, each with numbers of its own
_NOISE: Final = 1
_GAPS: Final = 2
_SPIKES: Final = 3


def generators(sensors: Sensors, cases: Sequence[Case], channel: str, *purpose: int) -> list[np.random.Generator]:
    """One generator per case: channel, section and seed decide, not the candidate, and not the errors of other channels."""
    own = zlib.crc32(channel.encode())
    return [np.random.default_rng([sensors.seed, case.seed, zlib.crc32(case.section.encode()), own, *purpose]) for case in cases]


class SensorNoise:
    """Noise, gaps and spikes of all cases, block after block."""

    def __init__(self, sensors: Sensors, cases: Sequence[Case], dt: float, layout: Layout) -> None:
        listed = [(name, error) for name, error in sensors.errors.items() if name in layout.rows and (error.noise or error.dropout)]
        spikes = [fault for fault in sensors.faults if fault.kind == SPIKE and fault.channel in layout.rows]
        noisy = [_Channel(sensors, name, cases, layout) for name, _ in listed]
        self._sources: list[_Channel | _Spikes] = [*noisy, *(_Spikes(sensors, fault, cases, layout) for fault in spikes)]
        self._dt = dt
        self.rows = sorted({row for source in self._sources for row in source.rows})
        self._place = {row: place for place, row in enumerate(self.rows)}
        self.block = np.zeros((BLOCK, len(self.rows), len(cases)))

    def draw(self, start: int) -> None:
        """Fill the block, (time, place in `rows`, case), for ticks from `start` on; NaN where a sample is lost. [SI]"""
        self.block[:] = 0.0
        for source in self._sources:
            places = [self._place[row] for row in source.rows]
            self.block[:, places] += source.draw(start, self._dt)


class _Channel:
    """Noise and gaps of one channel."""

    def __init__(self, sensors: Sensors, name: str, cases: Sequence[Case], layout: Layout) -> None:
        self.rows = range(*layout.rows[name].indices(layout.size))
        self._error = sensors.errors[name]
        self._noise = generators(sensors, cases, name, _NOISE) if self._error.noise else []
        self._gaps = generators(sensors, cases, name, _GAPS) if self._error.dropout else []

    def draw(self, start: int, dt: float) -> Array:
        """A block of its rows, (time, row, case)."""
        shape = (len(self.rows), BLOCK)
        drawn = np.zeros((max(len(self._noise), len(self._gaps)), *shape))
        for case, random in enumerate(self._noise):
            random.standard_normal(out=drawn[case])
        drawn *= self._error.noise
        for case, random in enumerate(self._gaps):
            drawn[case][random.random(shape) < self._error.dropout] = np.nan
        return drawn.transpose(2, 1, 0)


class _Spikes:
    """Single wrong samples at random, about one in `every` seconds."""

    def __init__(self, sensors: Sensors, fault: Fault, cases: Sequence[Case], layout: Layout) -> None:
        self.rows = [layout.rows[fault.channel].start + corner for corner in fault.corners]
        self._fault = fault
        self._touched = [fault.touches(case) for case in cases]
        self._random = generators(sensors, cases, fault.channel, _SPIKES, fault.number)
        self._period = sensors.errors.get(fault.channel, SensorError()).period

    def draw(self, start: int, dt: float) -> Array:
        """A block of its rows, (time, row, case)."""
        first, after = self._fault.ticks(dt)
        ticks = start + np.arange(BLOCK)
        within = (first <= ticks) & (ticks < after)
        share = max(dt, self._period) / self._fault.every  # of samples: a slow sensor gives only those
        shape = (len(self.rows), BLOCK)
        hits = [touched * within * (random.random(shape) < share) for touched, random in zip(self._touched, self._random, strict=True)]
        sized: Array = np.where(np.stack(hits), self._fault.size, 0.0)
        return sized.transpose(2, 1, 0)
