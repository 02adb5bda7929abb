"""Today's check beside a kept one, event by event: lost and newly found marks, new and gone false detections, who came later.

Shares of two checks over the same marks are not independent: the same jump is easy or hard for both. So marks are paired, and only those
that changed say anything: lost against gained by McNemar's exact test, latencies by their paired differences.

References
----------
McNemar, "Note on the sampling error of the difference between correlated proportions or percentages", Psychometrika 12, 1947; the exact
form is a sign test of the marks that changed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from replay.check.interval_sets import interval_array, pairs_within
from replay.check.matching import assign
from replay.check.reference import KeptLog, Reference
from replay.check.resampling import Between, median_between, weights_of
from replay.check.result import CheckResult, Event

LATENCY_TOLERANCE: Final = 0.002  # s, beyond one tick: stamps of a log are seldom sharper
FALSE_REACH: Final = 0.05  # s; two false ones nearer than this, or overlapping, are the same one seen with other thresholds
KINDS: Final = ("lost", "gained", "new false", "gone false", "slower")
WRONG: Final = ("false", "fragment", "late")
MarkKey = tuple[str, str, float, float]


@dataclass(frozen=True)
class Changed:
    """One event of one log that is not what it was; `slower` is by how much a mark's detection came later than before. [s]"""

    log: str
    kind: str  # one of KINDS
    event: Event
    slower: float = np.nan


@dataclass(frozen=True)
class StateComparison:
    """Marks of one state in both checks: how many, lost and gained, p of McNemar's exact test, paired latency and toggles."""

    state: str
    paired: int
    lost: int
    gained: int
    new_false: int
    gone_false: int
    slower: int
    p_value: float
    latency_change: float
    latency_between: Between
    toggles_before: float
    toggles_now: float

    @property
    def toggles_grew(self) -> bool:
        """Whether it changes more often than before."""
        return self.toggles_now > self.toggles_before * (1.0 + 1e-9)


@dataclass(frozen=True)
class Comparison:
    """What changed, state by state, and what can't be compared, in words."""

    against: str
    changed: tuple[Changed, ...]
    states: tuple[StateComparison, ...]
    apart: tuple[str, ...] = ()

    def of(self, state: str, *kinds: str) -> list[Changed]:
        """Changes of some kinds, of one state or ("") of all."""
        return [one for one in self.changed if one.kind in kinds and state in ("", one.event.state)]


@dataclass
class _Pairs:
    """What is paired so far, by state."""

    latency: dict[str, list[list[float]]] = field(default_factory=dict)
    paired: dict[str, int] = field(default_factory=dict)
    toggles: dict[str, list[float]] = field(default_factory=dict)
    changed: list[Changed] = field(default_factory=list)
    apart: list[str] = field(default_factory=list)


def compare_checks(reference: Reference, logs: Sequence[KeptLog]) -> Comparison:
    """Compare logs just checked with a reference; what isn't the same is told and left out.

    Not the same are logs of another content, marks that only one has, and states whose marks are found by another rule.
    """
    pairs = _Pairs()
    for log in logs:
        kept = reference.of(log.name)
        if kept is None:
            pairs.apart.append(f"log {log.name}: not in the reference")
        elif kept.digest != log.digest:
            pairs.apart.append(f"log {log.name}: another recording than in the reference (digest {log.digest}, was {kept.digest})")
        else:
            _compare_log(log, kept, pairs)
    here = {log.name for log in logs}
    pairs.apart += [f"log {log.name}: in the reference, not checked now" for log in reference.logs if log.name not in here]
    states = tuple(_of_state(state, pairs) for state in pairs.paired)
    return Comparison(reference.calibration, tuple(pairs.changed), states, tuple(pairs.apart))


def _compare_log(log: KeptLog, kept: KeptLog, pairs: _Pairs) -> None:
    rules = {one.state: one.rule for one in kept.result.states}
    judged = {one.state for one in log.result.states if rules.get(one.state) == one.rule}
    otherwise = [one.state for one in log.result.states if one.state in rules and one.state not in judged]
    pairs.apart += [f"{log.name}: {state}: found by another rule than in the reference" for state in otherwise]
    before, now = _marks(kept.result, otherwise), _marks(log.result, otherwise)
    pairs.apart += [f"{log.name}: {event.name}: no such mark in the reference" for key, event in now.items() if key not in before]
    pairs.apart += [f"{log.name}: {event.name}: marked in the reference only" for key, event in before.items() if key not in now]
    late: dict[str, list[float]] = {}
    for key in (key for key in now if key in before):
        pairs.paired[key[0]] = pairs.paired.get(key[0], 0) + 1
        pairs.changed += _mark_changed(log, before[key], now[key])
        if before[key].outcome == now[key].outcome == "found":
            late.setdefault(key[0], []).append(now[key].onset_latency - before[key].onset_latency)
    for state, differences in late.items():
        pairs.latency.setdefault(state, []).append(differences)
    for one in (one for one in log.result.states if one.state in judged):
        pairs.paired.setdefault(one.state, 0)
        sums = pairs.toggles.setdefault(one.state, [0.0, 0.0, 0.0])
        for place, value in enumerate((kept.result.of(one.state).exposure.toggles, one.exposure.toggles, one.exposure.ran)):
            sums[place] += value
        pairs.changed += _false_changed(log, kept.result, one.state)


def _marks(result: CheckResult, without: Sequence[str]) -> dict[MarkKey, Event]:
    marked = [event for event in result.events if event.outcome in ("found", "missed") and event.state not in without]
    return {(event.state, event.where, round(event.mark_start, 6), round(event.mark_end, 6)): event for event in marked}


def _mark_changed(log: KeptLog, before: Event, now: Event) -> list[Changed]:
    if before.outcome != now.outcome:
        return [Changed(log.name, "lost" if now.outcome == "missed" else "gained", now)]
    slower = now.onset_latency - before.onset_latency
    return [Changed(log.name, "slower", now, slower)] if slower > log.result.tick + LATENCY_TOLERANCE + 1e-9 else []


def _false_changed(log: KeptLog, kept: CheckResult, state: str) -> list[Changed]:
    """False ones without a partner on the other side; what was wrong in one way and is in another is the same one."""
    before, now = ([event for event in result.events if event.state == state and event.outcome in WRONG] for result in (kept, log.result))
    spans = [interval_array((event.detected_start, event.detected_end) for event in group) for group in (before, now)]
    old, new = pairs_within(spans[0], spans[1], FALSE_REACH)
    same = np.array([before[b].where == now[n].where for b, n in zip(old, new, strict=True)], dtype=bool)
    old, new = old[same], new[same]
    pairs = assign(old, new, np.abs(spans[1][new, 0] - spans[0][old, 0]))
    known = set(pairs.values())
    appeared = [event for index, event in enumerate(now) if index not in known and event.outcome == "false"]
    vanished = [event for index, event in enumerate(before) if index not in pairs and event.outcome == "false"]
    return [Changed(log.name, "new false", event) for event in appeared] + [Changed(log.name, "gone false", event) for event in vanished]


def _of_state(state: str, pairs: _Pairs) -> StateComparison:
    from scipy.stats import binomtest

    count = {kind: sum(one.kind == kind and one.event.state == state for one in pairs.changed) for kind in KINDS}
    differences = pairs.latency.get(state, [])
    joined = np.array([value for log in differences for value in log], dtype=float)
    moved = count["lost"] + count["gained"]
    toggles = _per_minute(pairs.toggles, state)
    return StateComparison(
        state, pairs.paired[state], count["lost"], count["gained"], count["new false"], count["gone false"], count["slower"],
        p_value=float(binomtest(count["lost"], moved).pvalue) if moved else 1.0,
        latency_change=float(np.median(joined)) if len(joined) else np.nan,
        latency_between=median_between(joined, weights_of([len(log) for log in differences])),
        toggles_before=toggles[0], toggles_now=toggles[1],
    )  # fmt: skip


def _per_minute(sums: Mapping[str, Sequence[float]], state: str) -> tuple[float, float]:
    before, now, ran = sums.get(state, (0.0, 0.0, 0.0))
    return (60.0 * before / ran, 60.0 * now / ran) if ran > 0 else (np.nan, np.nan)
