"""Many intervals at once, as (interval, 2) arrays of start and end: union, intersection, length, who touches whom."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Ints = NDArray[np.intp]
Bools = NDArray[np.bool_]


def interval_array(intervals: Iterable[tuple[float, float]]) -> Array:
    """Intervals as a (interval, 2) array, also when there is none."""
    return np.array(list(intervals), dtype=float).reshape(-1, 2)


def union(intervals: Array) -> Array:
    """The same time as intervals that neither overlap nor touch, in order."""
    if len(intervals) == 0:
        return intervals.reshape(-1, 2)
    inside = intervals[np.argsort(intervals[:, 0], kind="stable")]
    reached = np.maximum.accumulate(inside[:, 1])
    first = np.concatenate([[True], inside[1:, 0] > reached[:-1]])
    last = np.concatenate([first[1:], [True]])
    return np.column_stack([inside[first, 0], reached[last]])


def length(intervals: Array) -> float:
    """Time covered by intervals that may overlap. [s]"""
    apart = union(intervals)
    return float((apart[:, 1] - apart[:, 0]).sum())


def intersection(first: Array, second: Array) -> Array:
    """What lies in any of the first and in any of the second, in order."""
    a, b = union(first), union(second)
    one, other = _spread_out(np.searchsorted(b[:, 1], a[:, 0], "right"), np.searchsorted(b[:, 0], a[:, 1], "left"))
    return np.column_stack([np.maximum(a[one, 0], b[other, 0]), np.minimum(a[one, 1], b[other, 1])])


def touched(intervals: Array, others: Array) -> Bools:
    """For each interval, whether it shares time with any of the others; (interval,)."""
    apart = union(others)
    if len(apart) == 0 or len(intervals) == 0:
        return np.zeros(len(intervals), dtype=bool)
    first = np.searchsorted(apart[:, 1], intervals[:, 0], "right")
    begins = np.append(apart[:, 0], np.inf)[first]
    return np.asarray(begins < intervals[:, 1])


def covered(intervals: Array, others: Array) -> Array:
    """For each interval, how much of it any of the others covers; (interval,) [s]."""
    apart = union(others)
    if len(apart) == 0 or len(intervals) == 0:
        return np.zeros(len(intervals))
    knots = apart.ravel()
    until = np.concatenate([[0.0], np.cumsum(apart[:, 1] - apart[:, 0])])
    levels = np.column_stack([until[:-1], until[1:]]).ravel()
    return np.asarray(np.interp(intervals[:, 1], knots, levels) - np.interp(intervals[:, 0], knots, levels))


def pairs_within(first: Array, second: Array, reach: float = 0.0) -> tuple[Ints, Ints]:
    """Indices of all pairs of an interval here and one there that no gap longer than `reach` parts; two (pair,) arrays."""
    if len(first) == 0 or len(second) == 0:
        none = np.zeros(0, dtype=np.intp)
        return none, none
    order = np.argsort(second[:, 0], kind="stable")
    begins, reached = second[order, 0], np.maximum.accumulate(second[order, 1])
    here, there = _spread_out(np.searchsorted(reached, first[:, 0] - reach, "left"), np.searchsorted(begins, first[:, 1] + reach, "right"))
    near = second[order[there], 1] >= first[here, 0] - reach
    return here[near], order[there[near]]


def _spread_out(first: Ints, last: Ints) -> tuple[Ints, Ints]:
    """A range of partners for each index, as pairs: 0 with first[0] .. last[0] - 1, 1 with first[1] .. and so on."""
    count = np.maximum(last - first, 0)
    here = np.repeat(np.arange(len(first)), count)
    there = np.arange(int(count.sum())) - np.repeat(np.cumsum(count) - count, count) + np.repeat(first, count)
    return here, there.astype(np.intp)
