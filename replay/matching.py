"""Which detection belongs to which mark: one to one, as many as possible, and of those the closest."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from replay.intervals import Interval

Array = NDArray[np.float64]


def overlap_share(a: Interval, b: Interval) -> float:
    """Overlap over union of two intervals, 0 to 1."""
    shared = min(a[1], b[1]) - max(a[0], b[0])
    return shared / (max(a[1], b[1]) - min(a[0], b[0])) if shared > 0 else 0.0


def touches(a: Interval, b: Interval, margin: float = 0.0) -> bool:
    """True when the two overlap once `b` is made wider by `margin` at both ends."""
    return a[0] < b[1] + margin and b[0] - margin < a[1]


def match(
    marks: Sequence[Interval], detections: Sequence[Interval], eligible: Callable[[Interval, Interval], bool], reach: float
) -> dict[int, int]:
    """Mark index -> detection index: a largest one-to-one pairing, and among the largest the one with the smallest onset errors.

    Pairs further apart than `reach` [s] are never looked at, so that a long log falls into many small problems.
    """
    from scipy.optimize import linear_sum_assignment

    pairs: dict[int, int] = {}
    for mark_group, detection_group in _clusters(marks, detections, reach):
        allowed = np.array([[eligible(marks[m], detections[d]) for d in detection_group] for m in mark_group])
        error = np.array([[abs(detections[d][0] - marks[m][0]) for d in detection_group] for m in mark_group])
        forbidden = error.max() * (min(error.shape) + 1) + 1.0  # dearer than all allowed pairs together
        rows, columns = linear_sum_assignment(np.where(allowed, error, forbidden))
        pairs.update({mark_group[r]: detection_group[c] for r, c in zip(rows, columns, strict=True) if allowed[r, c]})
    return pairs


def _clusters(marks: Sequence[Interval], detections: Sequence[Interval], reach: float) -> Iterator[tuple[list[int], list[int]]]:
    """Groups of marks and detections that no stretch longer than `reach` separates; only those that hold both."""
    named = [(interval, 0, index) for index, interval in enumerate(marks)] + [
        (interval, 1, index) for index, interval in enumerate(detections)
    ]
    group: tuple[list[int], list[int]] = ([], [])
    until = -np.inf
    for interval, kind, index in sorted(named):
        if interval[0] > until + reach:
            if group[0] and group[1]:
                yield group
            group = ([], [])
        group[kind].append(index)
        until = max(until, interval[1])
    if group[0] and group[1]:
        yield group


def total_length(intervals: Sequence[Interval]) -> float:
    """Time covered by intervals that may overlap. [s]"""
    return sum(end - start for start, end in merged(intervals))


def merged(intervals: Sequence[Interval]) -> list[Interval]:
    """The same time as intervals that don't overlap, in order."""
    result: list[Interval] = []
    for start, end in sorted(intervals):
        if result and start <= result[-1][1]:
            result[-1] = (result[-1][0], max(end, result[-1][1]))
        else:
            result.append((start, end))
    return result


def cut_to(intervals: Sequence[Interval], inside: Sequence[Interval]) -> list[Interval]:
    """What of `intervals` lies inside others."""
    pairs = ((max(a, c), min(b, d)) for a, b in merged(intervals) for c, d in merged(inside))
    return [(start, end) for start, end in pairs if end > start]
