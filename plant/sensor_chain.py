"""From what is felt to what the sensors give: every error of a channel in the order in which it comes about.

What each row goes through, and why in this order:

1. *wiring*: swapped plugs and sensors mounted the wrong way round decide what is looked at. The errors drawn belong to
   the channel, since sensors of a kind are alike.
2. *mounting*: the box with accelerometers and gyros sits askew, which turns both vectors.
3. *gain, offset, drift* (and a drift put in as a fault) belong to the sensing element.
4. *range of the element*. Before the filter, on purpose: a hit beyond the range is cut off first and smoothed then, so
   that it reads too low without any flat top that would give it away.
5. *low-pass*, first order or second (Butterworth), of what lies between element and output.
6. *delay*: dead time of filter, converter and bus. It stands before sampling, where a fraction of a tick can be
   taken straight between two ticks; behind it, it would blur the steps of a held value. Both ways differ only by where
   the sensor's clock stands.
7. *noise*, spikes and lost samples, once per sample. `noise` is what data sheets state and what one measures at rest: at
   the output, hence behind the filter.
8. *sampling* at the sensor's own period, held in between; a noisy, a wrong or a lost sample stays until the next.
9. *range of the converter*, the same numbers again: neither noise nor the filter's overshoot leads beyond.
10. *grid*, the last thing that changes a number: what leaves the sensor always lies on it.
11. *stuck*, then *gaps* put in as faults: the line behind the sensor, which doesn't care what was sent.

The filter works on ticks and is exact for a signal that runs straight from tick to tick; what is faster than half the
tick rate has folded down before it comes here. The sensors' clocks all start with the run.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.errors import BadInput
from dualduty.signals import CONTROLLER_LAYOUT, Layout
from dualduty.trace import Case
from plant import sensor_kernel as part
from plant.faults import FaultTable, check_faults, fault_table
from plant.sensor_noise import BLOCK, CONSTANTS, SensorNoise, generators
from plant.sensors import SensorError, Sensors

Array = NDArray[np.float64]

_VECTORS: Final = (("specific_force_x", "specific_force_y", "specific_force_z"), ("roll_rate", "pitch_rate", "yaw_rate"))


class SensorChain:
    """The sensors of all cases, chunk after chunk; the same bits however time is cut.

    Parameters
    ----------
    sensors : Sensors
        Errors and faults; channels that the layout doesn't have are left to another chain.
    cases : sequence of Case
        Section and seed of a case decide its errors, its candidate doesn't.
    dt : float
        Step from tick to tick. [s]
    layout : Layout
        Rows of what is felt.
    """

    def __init__(self, sensors: Sensors, cases: Sequence[Case], dt: float, layout: Layout = CONTROLLER_LAYOUT) -> None:
        check_faults(sensors.faults, cases)
        self._shape = (layout.size, len(cases))
        self._noise = SensorNoise(sensors, cases, dt, layout)
        table = fault_table(sensors.faults, cases, dt, layout)
        plan = _plan(sensors, dt, layout)
        plan[self._noise.rows, part.ADDED] = np.arange(len(self._noise.rows))
        plan[table.entries[:, part.ROW].astype(int), part.FAULTY] = 1.0
        self._fixed = (plan, _by_case(sensors, cases, dt, layout))
        self._apart = _apart(sensors, table, layout)
        delayed = int((plan[:, part.DELAYED] >= 0.0).sum())
        slots = int(plan[:, part.WHOLE].max()) + 2
        self._memory = (np.zeros((4, *self._shape)), np.zeros((delayed, slots, len(cases))))
        self._now = 0

    def read(self, felt: Array) -> Array:
        """What the sensors give for the next ticks.

        Parameters
        ----------
        felt : (row, time, case) array
            What sensors without error would give, finite in every row that has a filter or a delay. [SI]

        Returns
        -------
        (row, time, case) array
            NaN where a channel gives nothing. [SI]
        """
        if felt.ndim != 3 or felt[:, 0].shape != self._shape:  # noqa: PLR2004 - axes
            raise BadInput("sensors", f"felt is {felt.shape}; expected ({self._shape[0]}, time, {self._shape[1]})")
        felt = np.ascontiguousarray(felt, np.float64)
        out = np.empty(felt.shape)
        first, ticks = 0, felt.shape[1]
        while first < ticks:
            count, place = self._within_block(ticks - first)
            part.sense(felt, *self._fixed, self._noise.block, *self._apart, *self._memory, first, count, self._now, place, out)
            first, self._now = first + count, self._now + count
        return out

    def _within_block(self, wanted: int) -> tuple[int, int]:
        """How many ticks to go on with, and where in the block of random numbers they begin; draws a new block when due."""
        place = self._now % BLOCK
        if place == 0:
            self._noise.draw(self._now)
        return min(wanted, BLOCK - place), place


def _plan(sensors: Sensors, dt: float, layout: Layout) -> Array:
    """What each row goes through, (row, part.PLAN)."""
    plan = np.zeros((layout.size, part.PLAN))
    plan[:, part.LOW], plan[:, part.HIGH] = -np.inf, np.inf
    plan[:, [part.DELAYED, part.ADDED]] = -1.0
    delayed = 0
    for name, error in sensors.errors.items():
        for row in range(*layout.rows.get(name, slice(0, 0)).indices(layout.size)):
            plan[row, [part.LOW, part.HIGH, part.GRID]] = error.low, error.high, error.grid
            plan[row, part.ADJUSTED] = _is_adjusted(error)
            plan[row, part.SAMPLES] = dt / error.period if error.period > dt else 0.0
            if error.corner_hz:
                plan[row, part.FILTERED], plan[row, part.TAPS : part.WHOLE] = 1.0, filter_taps(error.corner_hz, error.order, dt)
            if error.delay:
                whole = np.floor(error.delay / dt + 1e-9)
                plan[row, [part.DELAYED, part.WHOLE, part.FRACTION]] = delayed, whole, max(0.0, error.delay / dt - whole)
                delayed += 1
    return plan


def _is_adjusted(error: SensorError) -> bool:
    spread = error.gain_spread or error.offset_spread or error.drift or error.drift_spread
    return bool(spread or np.any(error.gain != np.float64(1.0)) or np.any(error.offset) or np.isfinite([error.low, error.high]).any())


def filter_taps(corner_hz: float, order: int, dt: float) -> tuple[float, ...]:
    """Taps b0, b1, b2, a1, a2 of a low-pass with -3 dB at `corner_hz`: a plain lag, or second order after Butterworth.

    Exact for a signal that runs straight between ticks, so that it keeps its lag at corners near the tick rate.

    Notes
    -----
    Each pole p of the filter is solved by itself: over a tick, y' = p y + u with a straight u is y e^x plus
    u before times (f1 - f2) dt plus u after times f2 dt, where x = p dt, f1 = (e^x - 1) / x and f2 = (f1 - 1) / x.
    """
    turning = 2.0 * np.pi * corner_hz
    poles = turning * (np.array([-1.0 + 0j]) if order == 1 else np.array([-1 + 1j, -1 - 1j]) / np.sqrt(2.0))
    grown = poles * dt
    before = np.expm1(grown) / grown
    after = (before - 1.0) / grown
    residues = turning**order / np.array([np.prod(pole - np.delete(poles, index)) for index, pole in enumerate(poles)])
    above, below = np.zeros(3), np.zeros(3)
    below[: order + 1] = np.poly(np.exp(grown)).real
    for index in range(order):
        others = np.poly(np.delete(np.exp(grown), index))
        above[: order + 1] += np.convolve(residues[index] * dt * np.array([after[index], before[index] - after[index]]), others).real
    above *= below.sum() / above.sum()  # a signal at rest passes unchanged, to the last digit
    return (*above.tolist(), *below[1:].tolist())


def _by_case(sensors: Sensors, cases: Sequence[Case], dt: float, layout: Layout) -> Array:
    """Gain, offset and drift per tick by row and case: what is known of this vehicle, and what was drawn."""
    values = np.zeros((3, layout.size, len(cases)))
    values[part.GAIN] = 1.0
    for name, error in sensors.errors.items():
        if name not in layout.rows:
            continue
        rows = layout.rows[name]
        corners = rows.stop - rows.start
        drawn = np.stack([random.standard_normal((3, corners)) for random in generators(sensors, cases, name, CONSTANTS)], axis=-1)
        values[part.GAIN, rows] = _column(error.gain) + error.gain_spread * drawn[0]
        values[part.OFFSET, rows] = _column(error.offset) + error.offset_spread * drawn[1]
        values[part.DRIFT, rows] = dt * (error.drift + error.drift_spread * drawn[2])
    return values


def _column(value: float | tuple[float, ...]) -> Array:
    return np.atleast_1d(np.asarray(value, float))[:, None]


def _apart(sensors: Sensors, table: FaultTable, layout: Layout) -> tuple[Array, Array, Array, Array]:
    """Faults, whom they touch, the rows of vectors that a box askew turns, and how."""
    turn = sensors.mounting.turn
    groups = [[layout.rows[name].start for name in group] for group in _VECTORS if set(group) <= set(layout.rows)]
    turned = np.array(groups if not np.array_equal(turn, np.eye(3)) else [], float).reshape(-1, 3)
    return table.entries, table.chosen, turned, turn
