"""Several checked logs as one: every figure over all of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import chain

from replay.check.result import CheckResult, Exposure, StateResult, state_result


def pooled(results: Sequence[CheckResult]) -> CheckResult:
    """One result over all logs: events one log after another, with the times of their own log; counts and times added."""
    if len(results) == 1:
        return results[0]
    states = tuple(_over_all(state, results) for state in dict.fromkeys(one.state for result in results for one in result.states))
    events = tuple(chain.from_iterable(result.events for result in results))
    return CheckResult(events, states, sum(result.length for result in results), max((result.tick for result in results), default=0.0))


def _over_all(state: str, results: Sequence[CheckResult]) -> StateResult:
    mine = [one for result in results for one in result.states if one.state == state]
    events = (event for result in results for event in result.events if event.state == state)
    return state_result(state, mine[0].rule, events, summed([one.exposure for one in mine]))


def joined(places: Sequence[Exposure]) -> Exposure:
    """Exposures of one state at its places in one log: sums; time without an event is that of the place with the least."""
    one = places[0]
    if len(places) == 1:
        return one
    return replace(summed(places), watched=one.watched, ran=one.ran, non_event_time=min(place.non_event_time for place in places))


def summed(exposures: Sequence[Exposure]) -> Exposure:
    """Times and counts of several, added; the shortest stay is the shortest of all."""
    names = ("watched", "non_event_time", "active_outside", "inactive_inside", "marked", "active", "ran", "toggles", "merges")
    sums = {name: sum(getattr(one, name) for one in exposures) for name in names}
    return Exposure(**sums, shortest_stay=min((one.shortest_stay for one in exposures), default=float("inf")))
