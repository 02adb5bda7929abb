"""Look-up curves and surfaces whose values may differ by corner and case."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dualduty.kernels import IN3, IN4, OUT3, inline, kernel

Array = NDArray[np.float64]


@inline
def segment(points: Array, wanted: float) -> tuple[int, float]:
    """Index of the segment of rising `points` that holds `wanted`, and the share 0..1 along it; held at the ends."""
    last = points.shape[0] - 1
    if last == 0 or wanted <= points[0]:
        return 0, 0.0
    if wanted >= points[last]:
        return last - 1, 1.0
    index = 0
    while wanted >= points[index + 1]:
        index += 1
    return index, (wanted - points[index]) / (points[index + 1] - points[index])


@kernel(IN3, IN3, IN3, OUT3)
def _curve_kernel(x: Array, points: Array, values: Array, out: Array) -> None:
    for corner in range(out.shape[0]):
        of_x = min(corner, x.shape[0] - 1)
        for tick in range(out.shape[1]):
            for case in range(out.shape[2]):
                at, share = segment(points[:, corner, case], x[of_x, tick, case])
                low = values[at, corner, case]
                high = values[min(at + 1, values.shape[0] - 1), corner, case]
                out[corner, tick, case] = low + share * (high - low)


@kernel(IN3, IN3, IN3, IN3, IN4, OUT3)
def _surface_kernel(x: Array, y: Array, x_points: Array, y_points: Array, values: Array, out: Array) -> None:
    for corner in range(x.shape[0]):
        for tick in range(x.shape[1]):
            for case in range(x.shape[2]):
                i, along_x = segment(x_points[:, corner, case], x[corner, tick, case])
                j, along_y = segment(y_points[:, corner, case], y[corner, tick, case])
                i_next = min(i + 1, values.shape[0] - 1)
                j_next = min(j + 1, values.shape[1] - 1)
                low = values[i, j, corner, case] + along_y * (values[i, j_next, corner, case] - values[i, j, corner, case])
                high = values[i_next, j, corner, case] + along_y * (values[i_next, j_next, corner, case] - values[i_next, j, corner, case])
                out[corner, tick, case] = low + along_x * (high - low)


def full(array: Array, shape: tuple[int, ...]) -> Array:
    """`array` broadcast to `shape`, float64 and C order, as kernels need it; itself where it already is."""
    if array.shape == shape and array.dtype == np.float64 and array.flags.c_contiguous:
        return array
    return np.ascontiguousarray(np.broadcast_to(array, shape), dtype=np.float64)


def _table(array: Array, axes: int, shape: tuple[int, int]) -> Array:
    """Points or values with the last two axes (corner, case) spread to `shape`."""
    whole = array.reshape((*array.shape, 1, 1)) if array.ndim == axes else array
    return full(whole, whole.shape[:axes] + shape)


def _cases_of(points: Array) -> int:
    return 1 if points.ndim == 1 else int(points.shape[2])


def between(low: float | Array, wanted: Array, high: float | Array) -> Array:
    """`wanted` within `low`..`high`; the same as clip, at a third of its cost per call."""
    return np.minimum(np.maximum(wanted, low), high)


@dataclass(frozen=True, eq=False)
class Curve:
    """Piecewise-linear curve, held at its ends.

    points : (n,) or (n, 1, case) array
        Rising breakpoints. [unit of the axis]
    values : (n,) or (n, 1 or 4, case) array
        Values at the breakpoints. [unit of the parameter]
    """

    points: Array
    values: Array
    _spread: dict[Any, Any] = field(default_factory=dict, repr=False)

    def __call__(self, x: Array) -> Array:
        """Value of the curve.

        x : (corner, time, case) array
            Where to look up; NaN gives NaN.
        """
        found = self._spread.get(x.shape[::2])
        if found is None:
            found = self._spread[x.shape[::2]] = self._tables(x.shape[0], x.shape[2])
        points, values = found
        out = np.empty((values.shape[1], x.shape[1], values.shape[2]))
        _curve_kernel(full(x, (x.shape[0], x.shape[1], values.shape[2])), points, values, out)
        return out

    def _tables(self, corners: int, cases: int) -> tuple[Array, Array]:
        own = (1, 1) if self.values.ndim == 1 else self.values.shape[1:]
        shape = (max(corners, own[0]), max(cases, own[1], _cases_of(self.points)))
        return _table(self.points, 1, shape), _table(self.values, 1, shape)


@dataclass(frozen=True, eq=False)
class Surface:
    """Bilinear surface over two axes, held at its edges.

    x_points, y_points : (n,), (m,) or (n, 1, case), (m, 1, case) arrays
        Rising breakpoints. [units of the axes]
    values : (n, m) or (n, m, 1 or 4, case) array
        Values at the breakpoints. [unit of the parameter]
    """

    x_points: Array
    y_points: Array
    values: Array
    _spread: dict[Any, Any] = field(default_factory=dict, repr=False)

    def __call__(self, x: Array, y: Array) -> Array:
        """Value of the surface at `x`, `y`, both (corner, time, case) arrays in the units of the axes."""
        own = (1, 1) if self.values.ndim == 2 else self.values.shape[2:]  # noqa: PLR2004 - axes of the table
        cases = max(x.shape[2], y.shape[2], own[1], _cases_of(self.x_points), _cases_of(self.y_points))
        shape = (max(x.shape[0], y.shape[0], own[0]), cases)
        tables = self._spread.get(shape)
        if tables is None:
            tables = (_table(self.x_points, 1, shape), _table(self.y_points, 1, shape), _table(self.values, 2, shape))
            self._spread[shape] = tables
        out = np.empty((shape[0], x.shape[1], shape[1]))
        _surface_kernel(full(x, out.shape), full(y, out.shape), *tables, out)
        return out
