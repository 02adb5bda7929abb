"""Right time, wrong name: a state seen where it is not marked, while another one is.

References
----------
Cross-triggers apart from plain false detections, where marks of another class cover the detection by at least a share of it: Bilen et al.,
2020, arXiv 1910.08440; a share of 0.3 is usual with it (from memory).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Final

from replay.check.interval_sets import Array, covered, interval_array
from replay.check.result import Event

LEAST_COVER: Final = 0.3  # of the detection
NOTHING: Final = ""  # column of what was seen while nothing was marked


def with_cross_triggers(events: Sequence[Event], marked: Mapping[str, Array]) -> list[Event]:
    """The same events; a false one says beside which other states' marks, (mark, 2) [s], it lies."""
    false = [index for index, event in enumerate(events) if event.outcome == "false"]
    if not false:
        return list(events)
    spans = interval_array((events[index].detected_start, events[index].detected_end) for index in false)
    least = LEAST_COVER * (spans[:, 1] - spans[:, 0])
    over = {state: covered(spans, intervals) >= least for state, intervals in marked.items() if len(intervals)}
    result = list(events)
    for place, index in enumerate(false):
        beside = tuple(state for state, is_over in over.items() if is_over[place] and state != events[index].state)
        if beside:
            result[index] = replace(events[index], beside=beside)
    return result


def cross_matrix(events: Iterable[Event]) -> Counter[tuple[str, str]]:
    """How often a state was falsely seen (first) while another was marked (second; "" where nothing was)."""
    return Counter((event.state, other) for event in events if event.outcome == "false" for other in (event.beside or (NOTHING,)))
