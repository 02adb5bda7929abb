"""Which detection belongs to which mark: one to one, as many as possible, and of those the closest."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from replay.check.interval_sets import Array, Bools, Ints, intersection, interval_array, length, pairs_within, union
from replay.check.intervals import Interval


def overlap_share(a: Interval, b: Interval) -> float:
    """Overlap over union of two intervals, 0 to 1."""
    return float(overlap_shares(interval_array([a]), interval_array([b]))[0])


def overlap_shares(first: Array, second: Array) -> Array:
    """Overlap over union of intervals pair by pair, 0 to 1: two (pair, 2) arrays give a (pair,) array."""
    shared = np.minimum(first[:, 1], second[:, 1]) - np.maximum(first[:, 0], second[:, 0])
    spanned = np.maximum(first[:, 1], second[:, 1]) - np.minimum(first[:, 0], second[:, 0])
    return np.asarray(np.where(shared > 0.0, shared, 0.0) / np.where(spanned > 0.0, spanned, 1.0))


def touches(a: Interval, b: Interval, margin: float = 0.0) -> bool:
    """True when the two overlap once `b` is made wider by `margin` at both ends."""
    return a[0] < b[1] + margin and b[0] - margin < a[1]


def match(
    marks: Sequence[Interval], detections: Sequence[Interval], eligible: Callable[[Interval, Interval], bool], reach: float
) -> dict[int, int]:
    """Mark index -> detection index: a largest one-to-one pairing, and among the largest the one with the smallest onset errors.

    Pairs further apart than `reach` [s] are never looked at, so that a long log falls into many small problems.
    """
    mark, detection = pairs_within(interval_array(marks), interval_array(detections), reach)
    allowed = [eligible(marks[m], detections[d]) for m, d in zip(mark.tolist(), detection.tolist(), strict=True)]
    keep = np.array(allowed, dtype=bool)
    error = np.array([abs(detections[d][0] - marks[m][0]) for m, d in zip(mark[keep], detection[keep], strict=True)])
    return assign(mark[keep], detection[keep], error)


def assign(marks: Ints, detections: Ints, error: Array) -> dict[int, int]:
    """The same for (pair,) arrays of all eligible pairs and what each costs; groups that share nothing are solved apart."""
    if len(marks) == 0:
        return {}
    pairs: dict[int, int] = {}
    group = _groups(marks, detections)
    order = np.argsort(group, kind="stable")
    for chosen in np.split(order, np.flatnonzero(np.diff(group[order])) + 1):
        if len(chosen) == 1:
            pairs[int(marks[chosen[0]])] = int(detections[chosen[0]])
        else:
            pairs.update(_solved(marks[chosen], detections[chosen], error[chosen]))
    return pairs


def _groups(marks: Ints, detections: Ints) -> NDArray[np.int32]:
    """Which connected group of marks and detections each pair belongs to; (pair,)."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    rows, columns = int(marks.max()) + 1, int(detections.max()) + 1
    links = coo_array((np.ones(len(marks)), (marks, rows + detections)), shape=(rows + columns, rows + columns))
    label: NDArray[np.int32] = connected_components(links, directed=False)[1]
    return np.asarray(label[marks])


def _solved(marks: Ints, detections: Ints, error: Array) -> dict[int, int]:
    from scipy.optimize import linear_sum_assignment

    (mark_names, row), (detection_names, column) = np.unique(marks, return_inverse=True), np.unique(detections, return_inverse=True)
    shape = (len(mark_names), len(detection_names))
    forbidden = float(error.max()) * (min(shape) + 1) + 1.0  # dearer than all allowed pairs together
    cost, allowed = np.full(shape, forbidden), np.zeros(shape, dtype=bool)
    cost[row, column], allowed[row, column] = error, True
    rows, columns = linear_sum_assignment(cost)
    taken: Bools = allowed[rows, columns]
    return dict(zip(mark_names[rows[taken]].tolist(), detection_names[columns[taken]].tolist(), strict=True))


def total_length(intervals: Sequence[Interval]) -> float:
    """Time covered by intervals that may overlap. [s]"""
    return length(interval_array(intervals))


def merged(intervals: Sequence[Interval]) -> list[Interval]:
    """The same time as intervals that don't overlap, in order."""
    return _listed(union(interval_array(intervals)))


def cut_to(intervals: Sequence[Interval], inside: Sequence[Interval]) -> list[Interval]:
    """What of `intervals` lies inside others."""
    return _listed(intersection(interval_array(intervals), interval_array(inside)))


def _listed(intervals: Array) -> list[Interval]:
    return [(start, end) for start, end in intervals.tolist()]
