"""What an inertial unit recorded, brought to the vehicle's axes and its centre of gravity, block by block."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from dualduty.kernels import F8, IN1, IN2, OUT2, inline, kernel
from replay.channels.mounting import Mounting

Array = NDArray[np.float64]


class Turning:
    """Turns a log from its first sample on, in blocks; the gyros' past is kept, so any cut into blocks gives the same bits."""

    def __init__(self, mounting: Mounting) -> None:
        self._axes = np.array(mounting.axes)
        self._position = np.array(mounting.position)
        self._hz = mounting.derivative_hz
        self._past = np.zeros((3, 4))  # by the vehicle's axes: started, lagged rate, when, rate of change

    def turn(self, time: Array, forces: Array, rates: Array) -> tuple[Array, Array]:
        """Specific forces and rates in the vehicle's axes; NaN only where a component with weight is NaN.

        time : (sample,) array
            Stamps. [s]
        forces : (3, sample) array
            Specific force along the unit's x, y, z. [m/s²]
        rates : (3, sample) array
            Rates about the unit's x, y, z. [rad/s]
        """
        felt, turned = np.empty_like(forces), np.empty_like(rates)
        ready = [np.ascontiguousarray(values, dtype=np.float64) for values in (time, forces, rates)]
        _turn(*ready, self._axes, self._position, self._hz, self._past, felt, turned)
        return felt, turned


@inline
def _differentiate(now: float, rates: Array, hz: float, past: Array) -> None:
    """Rates of change as the lagged rates move; a rate without a value has none, and the next one bridges it."""
    for axis in range(3):
        before = past[axis]
        if math.isnan(rates[axis]):
            before[3] = math.nan
        elif before[0] == 0.0:
            before[0], before[1], before[2], before[3] = 1.0, rates[axis], now, 0.0
        elif now > before[2]:
            step = -math.expm1(-2.0 * math.pi * hz * (now - before[2])) * (rates[axis] - before[1])
            before[3] = step / (now - before[2])
            before[1] += step
            before[2] = now


@inline
def _to_centre(rates: Array, past: Array, position: Array, felt: Array) -> None:
    """Less w' x r and w x (w x r); a position of 0 along an axis has no part in it, also where there is no value."""
    for axis in range(3):
        one, two = (axis + 1) % 3, (axis + 2) % 3
        if position[axis] != 0.0:
            felt[axis] += position[axis] * (rates[one] * rates[one] + rates[two] * rates[two])
        if position[one] != 0.0:
            felt[axis] += position[one] * (past[two, 3] - rates[axis] * rates[one])
        if position[two] != 0.0:
            felt[axis] -= position[two] * (past[one, 3] + rates[axis] * rates[two])


@kernel(IN1, IN2, IN2, IN2, IN1, F8, OUT2, OUT2, OUT2)
def _turn(  # noqa: PLR0913, PLR0917 - a kernel takes its arrays one by one
    time: Array, forces: Array, rates: Array, axes: Array, position: Array, hz: float, past: Array, felt: Array, turned: Array
) -> None:
    away = position[0] != 0.0 or position[1] != 0.0 or position[2] != 0.0
    for sample in range(len(time)):
        for axis in range(3):
            felt[axis, sample] = turned[axis, sample] = 0.0
            for unit in range(3):
                if axes[axis, unit] != 0.0:  # no weight, no matter: also where there is no value
                    felt[axis, sample] += axes[axis, unit] * forces[unit, sample]
                    turned[axis, sample] += axes[axis, unit] * rates[unit, sample]
        if away:
            _differentiate(time[sample], turned[:, sample], hz, past)
            _to_centre(turned[:, sample], past, position, felt[:, sample])
