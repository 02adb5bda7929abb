"""Counts how far logged and replayed duties agree: by side, corner, drive mode, deciding layer and second, block by block."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.signals import CORNERS, SIDES
from dualduty.trace import Header
from replay.sameness.sameness_shift import Block

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

ROWS: Final = len(SIDES) * len(CORNERS)
ROUNDING: Final = 1e-9  # of a duty that was printed with a few digits
BINS: Final = 201  # of the difference, one per cent each


@dataclass(frozen=True, eq=False)
class DutyTally:
    """Counts of ticks.

    compared, agreeing : (side, corner, mode) int arrays
        Ticks compared, and those that agree.
    apart : (side, corner, mode) array
        Sum of how far the logged duty lies outside the replayed range. [1]
    moving, moving_agreeing : (side,) int arrays
        The same counts of ticks at which the logged duty was moving.
    layer_compared, layer_agreeing : (side, layer) int arrays
        By the replayed layer that decided.
    layer_apart : (side, layer) array
        Middle of logged less replayed over the ticks that don't agree, NaN without any. [1]
    layer_scatter : (side, layer) array
        Width of the middle half of the same. [1]
    windows : (8, window) array
        Mean of how far they lie apart in each window, NaN where nothing was compared. [1]
    ticks : int
        Ticks at which anything was compared.
    """

    compared: Ints
    agreeing: Ints
    apart: Array
    moving: Ints
    moving_agreeing: Ints
    layer_compared: Ints
    layer_agreeing: Ints
    layer_apart: Array
    layer_scatter: Array
    windows: Array
    window: float
    ticks: int


class DutyFold:
    """Takes blocks in order."""

    def __init__(self, tolerance: float, header: Header, window: float) -> None:
        self._tolerance = tolerance + ROUNDING
        self._window, self._width = window, max(round(window / header.dt), 1)
        places = (ROWS, max(len(header.modes), 1))
        self._compared, self._agreeing = np.zeros(places, np.int64), np.zeros(places, np.int64)
        self._apart = np.zeros(places)
        self._moving = np.zeros((2, len(SIDES)), np.int64)
        layers = (len(SIDES), len(header.layers))
        self._layer = np.zeros((2, *layers), np.int64)
        self._histogram = np.zeros((*layers, BINS), np.int64)
        self._sums, self._counts = np.zeros((ROWS, 0)), np.zeros((ROWS, 0))
        self._ticks = 0

    def take(self, block: Block) -> None:
        """Count the next block."""
        known = np.isfinite(block.logged) & block.settled
        apart = np.where(known, np.fmax(block.logged - block.high, 0.0) - np.fmax(block.low - block.logged, 0.0), 0.0)
        agree = known & (np.abs(apart) <= self._tolerance)
        self._ticks += int(known.any(axis=0).sum())
        for mode in np.unique(block.mode).tolist():
            here = block.mode == mode
            self._compared[:, mode] += known[:, here].sum(axis=1)
            self._agreeing[:, mode] += agree[:, here].sum(axis=1)
            self._apart[:, mode] += np.abs(apart[:, here]).sum(axis=1)
        self._by_movement(block, known, agree)
        self._by_layer(block, known, agree, apart)
        self._by_window(block.start, known, np.abs(apart))

    def _by_movement(self, block: Block, known: Bools, agree: Bools) -> None:
        moving = known & (block.moved > self._tolerance)
        for index, counted in enumerate((moving, moving & agree)):
            self._moving[index] += counted.reshape(len(SIDES), -1).sum(axis=1)

    def _by_layer(self, block: Block, known: Bools, agree: Bools, apart: Array) -> None:
        for side in range(len(SIDES)):
            rows = slice(side * len(CORNERS), (side + 1) * len(CORNERS))
            layer, layers = block.layer[rows], self._layer.shape[2]
            inside = known[rows] & (layer >= 0) & (layer < layers)
            for index, counted in enumerate((inside, inside & agree[rows])):
                self._layer[index, side] += np.bincount(layer[counted], minlength=layers)
            differs = inside & ~agree[rows]
            bins = np.clip(np.round(apart[rows][differs] * (BINS // 2)).astype(np.int64) + BINS // 2, 0, BINS - 1)
            np.add.at(self._histogram[side], (layer[differs], bins), 1)

    def _by_window(self, start: int, known: Bools, apart: Array) -> None:
        place = (start + np.arange(known.shape[1])) // self._width
        more = int(place[-1]) + 1 - self._sums.shape[1]
        if more > 0:
            self._sums, self._counts = (np.pad(rows, ((0, 0), (0, more))) for rows in (self._sums, self._counts))
        for row in range(ROWS):
            self._sums[row] += np.bincount(place, apart[row], minlength=self._sums.shape[1])
            self._counts[row] += np.bincount(place, known[row], minlength=self._sums.shape[1])

    def result(self) -> DutyTally:
        """All counts."""
        shape = (len(SIDES), len(CORNERS), -1)
        with np.errstate(invalid="ignore"):
            windows = self._sums / self._counts
        middle, scatter = _middles(self._histogram)
        return DutyTally(
            self._compared.reshape(shape), self._agreeing.reshape(shape), self._apart.reshape(shape), self._moving[0], self._moving[1],
            self._layer[0], self._layer[1], middle, scatter, windows, self._window, self._ticks,
        )  # fmt: skip


def _middles(histogram: Ints) -> tuple[Array, Array]:
    """Median and width of the middle half of counts over bins of one per cent; NaN without counts."""
    total = histogram.sum(axis=-1)
    summed = np.cumsum(histogram, axis=-1)
    places = [np.argmax(summed >= share * np.maximum(total, 1)[..., None], axis=-1) for share in (0.25, 0.5, 0.75)]
    quarter, half, three = (np.where(total > 0, (place - BINS // 2) / (BINS // 2), np.nan) for place in places)
    return half, three - quarter
