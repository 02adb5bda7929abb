"""Folds a long recording into a few bins per row without losing its peaks, chunk by chunk."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

MOST_BINS: Final = 1200  # about one per pixel of a wide panel; two points each
MOST_CELLS: Final = 512  # of a strip: fewer than the pixels of half a page, so that no cell falls between pixels


class Bins:
    """Bins of equal width in ticks, reduced by an idempotent rule (`np.fmin`, `np.maximum`, `np.bitwise_or`, ...).

    The length of the recording need not be known: when the bins outgrow `most`, neighbours merge and the width doubles.
    """

    def __init__(self, rule: np.ufunc, most: int = MOST_BINS) -> None:
        self.rule = rule
        self.most = most
        self.width = 1
        self._done: NDArray[Any] = np.empty((0, 0))
        self._rest: NDArray[Any] = np.empty((0, 0))

    def take(self, values: NDArray[Any]) -> None:
        """Fold in the next `(row, tick)` values."""
        if not self._done.shape[0]:
            self._done = values[:, :0]
            self._rest = values[:, :0]
        rest = np.concatenate([self._rest, values], axis=1) if self._rest.shape[1] else values
        while self._done.shape[1] * self.width + rest.shape[1] > self.most * self.width:
            rest = self._widen(rest)
        full = rest.shape[1] // self.width * self.width
        blocks = rest[:, :full].reshape(rest.shape[0], -1, self.width)
        fresh = _reduced(self.rule, blocks)
        self._done = np.concatenate([self._done, fresh], axis=1)
        self._rest = rest[:, full:].copy()

    def _widen(self, rest: NDArray[Any]) -> NDArray[Any]:
        """Merge neighbours; an odd bin goes back before the rest as repeated ticks, which the rule can't tell apart."""
        done = self._done
        pairs = done.shape[1] // 2
        odd = np.repeat(done[:, 2 * pairs :], self.width, axis=1)
        self._done = self.rule(done[:, 0 : 2 * pairs : 2], done[:, 1 : 2 * pairs : 2])
        self.width *= 2
        return np.concatenate([odd, rest], axis=1) if odd.shape[1] else rest

    def result(self) -> NDArray[Any]:
        """Reduced values `(row, bin)`; the last bin may stand for fewer ticks than the others."""
        if not self._rest.shape[1]:
            return self._done
        return np.concatenate([self._done, self.rule.reduce(self._rest, axis=1, keepdims=True)], axis=1)


def _reduced(rule: np.ufunc, blocks: NDArray[Any]) -> NDArray[Any]:
    """Reduce the last axis by halving, which keeps to fast strided passes; widths are powers of two."""
    while blocks.shape[2] > 1:
        blocks = rule(blocks[:, :, 0::2], blocks[:, :, 1::2])
    return blocks[:, :, 0]


class Envelope:
    """Lowest and highest value per bin; NaN is passed over unless a bin holds nothing else."""

    def __init__(self, most: int = MOST_BINS) -> None:
        self.low = Bins(np.fmin, most)
        self.high = Bins(np.fmax, most)

    def take(self, values: NDArray[np.float64]) -> None:
        """Fold in the next `(row, tick)` values."""
        self.low.take(values)
        self.high.take(values)

    def points(self, dt: float, start: float = 0.0) -> tuple[NDArray[Any], NDArray[Any]]:
        """Times `(point,)` and values `(row, point)` to draw: the ticks themselves, or low and high of each bin."""
        low, high = self.low.result(), self.high.result()
        step = dt * self.low.width
        if self.low.width == 1:
            return start + step * np.arange(low.shape[1]), low
        time = start + step * (np.arange(2 * low.shape[1]) + 0.5) / 2.0
        return time, np.stack([low, high], axis=2).reshape(low.shape[0], -1)
