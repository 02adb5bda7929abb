"""Marks of several people as one set: what two of them saw becomes one event, with edges as soft as they differ."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

import numpy as np

from dualduty.errors import BadInput, SeveralBadInputs
from replay.check.intervals import Interval
from replay.check.matching import match, overlap_share
from replay.marks.mark import ACCEPTED, NOT_STATES, Mark

LEAST_SHARED: Final = 0.5  # overlap over union of two marks of the same event; as the check of detectors has it
_MICROSECOND: Final = 1e-6  # s, to which files keep times
_NO_FIGURES: Final = (float("nan"), float("nan"))


@dataclass(frozen=True)
class Shared:
    """How far people agree on one state: events that two or more have, those one alone has, by whom, and how far edges are apart.

    `start` and `end` are median and 90th percentile of how far the edges of an event lie apart, NaN where nobody shares one. [s]
    """

    state: str
    both: int
    alone: dict[str, int]
    start: tuple[float, float]
    end: tuple[float, float]

    @property
    def line(self) -> str:
        """In words: `airborne: 29 of 31 marked by both; starts differ by 12 ms median, 30 ms p90; ends ...`."""
        apart = [f"{edge} differ by {1e3 * pair[0]:.0f} ms median, {1e3 * pair[1]:.0f} ms p90" for edge, pair in
                 (("starts", self.start), ("ends", self.end)) if self.both]  # fmt: skip
        alone = [f"{count} by {who or 'nobody named'} only" for who, count in self.alone.items()]
        return "; ".join([f"{self.state}: {self.both} of {self.both + sum(self.alone.values())} marked by both", *alone, *apart])


@dataclass(frozen=True)
class Agreement:
    """`marks` in order of time, an event each; `alone` are those that only one person has; `states` how far they agree, by state."""

    marks: tuple[Mark, ...]
    alone: tuple[Mark, ...]
    states: tuple[Shared, ...]

    def of(self, state: str) -> Shared:
        """How far people agree on one state."""
        return next(shared for shared in self.states if shared.state == state)


def agreed(marks: Sequence[Mark], states: Collection[str] = (), file: Path | str = "marks") -> Agreement:
    """Marks of the states named, or of all, made one set; what isn't accepted and what is no state is handed through as it is.

    Of one state and place, marks by different `who` that overlap by half of their union are one event: as many pairs as possible, and
    among those the closest. Its edges are the means, each soft by at least half of what they differ, it is as sure as the mean, and
    `who` names all. BadInput, naming line and `file`, where marks of one person overlap: then nobody can tell which of them another's is.
    """
    mine = [mark for mark in marks if _takes_part(mark, states)]
    _refuse_overlaps(mine, file)
    made = [mark for mark in marks if not _takes_part(mark, states)]
    groups: dict[tuple[str, str], list[Mark]] = {}
    for mark in mine:
        groups.setdefault((mark.state, mark.where), []).append(mark)
    events = {key: _events(group) for key, group in groups.items()}
    alone = [event[0] for each in events.values() for event in each if len(event) == 1]
    made += [_one(event) for each in events.values() for event in each]
    names = dict.fromkeys(state for state, _ in events)
    figures = tuple(_shared(name, [event for key, each in events.items() if key[0] == name for event in each]) for name in names)
    return Agreement(tuple(sorted(made, key=_by_time)), tuple(sorted(alone, key=_by_time)), figures)


def several_people(marks: Iterable[Mark]) -> bool:
    """Whether more than one person marked states."""
    return len({mark.who for mark in marks if _takes_part(mark, ())}) > 1


def _takes_part(mark: Mark, states: Collection[str]) -> bool:
    return mark.status == ACCEPTED and mark.state not in NOT_STATES and (not states or mark.state in states)


def _by_time(mark: Mark) -> tuple[float, str, str]:
    return (mark.start, mark.state, mark.where)


def _refuse_overlaps(marks: Sequence[Mark], file: Path | str) -> None:
    problems = []
    latest: dict[tuple[str, str, str], Mark] = {}
    for mark in sorted(marks, key=_by_time):
        key = (mark.state, mark.where, mark.who)
        before = latest.get(key)
        if before is not None and mark.start < before.end:
            told = f"overlaps {before.name} of line {before.row}, both by {mark.who or 'nobody named'}; expected marks of one person apart"
            problems.append(BadInput(f"{file} line {mark.row}", f"{mark.name} {told}"))
        if before is None or mark.end > before.end:
            latest[key] = mark
    if problems:
        raise problems[0] if len(problems) == 1 else SeveralBadInputs(problems)


def _events(marks: Sequence[Mark]) -> list[list[Mark]]:
    """Marks of one state and place, those of one event together; people are taken in one after another."""
    events: list[list[Mark]] = []
    for who in dict.fromkeys(mark.who for mark in marks):
        theirs = [mark for mark in marks if mark.who == who]
        means = [_mean_interval(event) for event in events]
        pairs = match(means, [(mark.start, mark.end) for mark in theirs], _alike, 0.0)
        for event, mark in pairs.items():
            events[event].append(theirs[mark])
        taken = set(pairs.values())
        events += [[mark] for index, mark in enumerate(theirs) if index not in taken]
    return events


def _alike(one: Interval, other: Interval) -> bool:
    return overlap_share(one, other) >= LEAST_SHARED


def _mean_interval(event: Sequence[Mark]) -> Interval:
    return (float(np.mean([mark.start for mark in event])), float(np.mean([mark.end for mark in event])))


def _one(event: Sequence[Mark]) -> Mark:
    """The event that several marks tell of."""
    if len(event) == 1:
        return event[0]
    start, end = _mean_interval(event)
    return replace(
        event[0], start=start, end=end, sure=float(np.mean([mark.sure for mark in event])),
        who=" + ".join(mark.who or "nobody named" for mark in event),
        note="; ".join(dict.fromkeys(mark.note for mark in event if mark.note)),
        origin=_origin(event),
        start_margin=_margin([mark.start for mark in event], [mark.start_margin for mark in event]),
        end_margin=_margin([mark.end for mark in event], [mark.end_margin for mark in event]),
    )  # fmt: skip


def _origin(event: Sequence[Mark]) -> str:
    """A person's own mark makes the event independent of whoever proposed the other."""
    return "" if any(not mark.origin for mark in event) else event[0].origin


def _margin(edges: Sequence[float], margins: Sequence[float | None]) -> float | None:
    """At least half of what the edges differ, and at least what anybody said; None, the rule's own, where nothing is wider than that."""
    said = [margin for margin in margins if margin is not None]
    half = 0.5 * (max(edges) - min(edges))
    return max([half, *said]) if said or half > _MICROSECOND else None


def _shared(state: str, events: Sequence[Sequence[Mark]]) -> Shared:
    shared = [event for event in events if len(event) > 1]
    alone: dict[str, int] = {}
    for event in events:
        if len(event) == 1:
            alone[event[0].who] = alone.get(event[0].who, 0) + 1
    edges = [[[mark.start for mark in event] for event in shared], [[mark.end for mark in event] for event in shared]]
    apart = [np.array([max(each) - min(each) for each in side]) for side in edges]
    start, end = (_NO_FIGURES if not len(side) else (float(np.median(side)), float(np.percentile(side, 90))) for side in apart)
    return Shared(state, len(shared), alone, start, end)
