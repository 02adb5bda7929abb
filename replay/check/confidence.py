"""How sure the figures of a check are: 95 % intervals of recall, precision, false rate and median latency.

The bootstrap alone would call 5 of 5 "100 % for sure", and no false one in a minute "never": what was not drawn can't come up. So its
interval is widened to the exact one of the same count: for shares that of the binomial distribution, for the false rate that of Poisson's.
Those hold for independent events; the bootstrap over logs is the wider one where logs differ.

References
----------
Clopper and Pearson, "The use of confidence or fiducial limits illustrated in the case of the binomial", Biometrika 26, 1934. Garwood,
"Fiducial limits for the Poisson distribution", Biometrika 28, 1936.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from replay.check.resampling import DRAWS, LEVEL, SEED, UNKNOWN, Between, hull, median_between, percentiles, share_between, weights_of
from replay.check.result import CheckResult

Array = NDArray[np.float64]
MINUTE: Final = 60.0
COUNTS: Final = ("found", "false", "fragment", "late")  # outcomes of a detection that counts


@dataclass(frozen=True)
class Confidence:
    """95 % intervals of one state's figures; NaN where there is nothing to judge by. Recall and precision as shares, latency in s."""

    recall: Between
    precision: Between
    false_per_minute: Between
    onset_median: Between


def confidence(results: Sequence[CheckResult], state: str, draws: int = DRAWS, seed: int = SEED) -> Confidence:
    """Of one state, over all logs given."""
    logs = [[event for event in result.events if event.state == state] for result in results]
    independent = [[event for event in log if not event.own] for log in logs]
    found = [[event.outcome == "found" for event in log if event.outcome in ("found", "missed")] for log in independent]
    right = [[event.outcome == "found" for event in log if event.outcome in COUNTS] for log in logs]
    late = [[event.onset_latency for event in log if event.outcome == "found"] for log in independent]
    return Confidence(
        _share(found, draws, seed), _share(right, draws, seed), _rate(results, state, draws, seed),
        median_between(_joined(late), weights_of([len(log) for log in late], draws, seed)),
    )  # fmt: skip


def _share(logs: Sequence[Sequence[bool]], draws: int, seed: int) -> Between:
    from scipy.stats import binomtest

    hits, counts = [sum(log) for log in logs], [len(log) for log in logs]
    if not sum(counts):
        return UNKNOWN
    exact = binomtest(sum(hits), sum(counts)).proportion_ci(LEVEL)
    return hull(share_between(hits, counts, draws, seed), (float(exact.low), float(exact.high)))


def _rate(results: Sequence[CheckResult], state: str, draws: int, seed: int) -> Between:
    """False ones per minute: over stretches of about a minute of time without an event."""
    from scipy.stats import chi2

    mine = [result for result in results if any(one.state == state and one.non_event_time > 0 for one in result.states)]
    if not mine:
        return UNKNOWN
    stretches = [_false_by_stretch(result, state) for result in mine]
    lasts = np.concatenate(
        [np.full(len(counts), result.of(state).non_event_time / len(counts)) for result, counts in zip(mine, stretches, strict=True)]
    )
    counts, minutes = np.concatenate(stretches), lasts / MINUTE
    weights = weights_of([len(each) for each in stretches], draws, seed)
    drawn = percentiles((weights @ counts) / (weights @ minutes))
    total, tail = float(counts.sum()), 0.5 - 0.5 * LEVEL
    exact = (float(chi2.ppf(tail, 2 * total)) / 2 if total else 0.0, float(chi2.ppf(1 - tail, 2 * total + 2)) / 2)
    return hull(drawn, (exact[0] / float(minutes.sum()), exact[1] / float(minutes.sum())))


def _false_by_stretch(result: CheckResult, state: str) -> Array:
    """Number of false ones in each of equal stretches of the log, about a minute of time without an event each."""
    number = max(round(result.of(state).non_event_time / MINUTE), 1)
    starts = [event.start for event in result.events if event.state == state and event.outcome == "false"]
    return np.histogram(starts, bins=number, range=(0.0, max(result.length, 1e-9)))[0].astype(float)


def _joined(logs: Sequence[Sequence[float]]) -> Array:
    return np.array([value for log in logs for value in log], dtype=float)
