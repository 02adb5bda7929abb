"""Bootstrap over logs and the events in them: how far a figure would move with other logs of the same kind.

Events of one log are alike: the same driver, ground and day. So logs are drawn first, with replacement, then as many events as each drawn
log has, from that log; with one log only the events are drawn. A draw is kept as weights, how often each event was taken, and every
figure is worked out of them. Samples of a signal are never drawn: neighbours are no independent witnesses.

References
----------
Percentile interval: Efron and Tibshirani, "An introduction to the bootstrap", 1993, chapter 13 (from memory). Clusters first, then what is
in them: Davison and Hinkley, "Bootstrap methods and their application", 1997, section 3.8 (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Weights = NDArray[np.int64]
Between = tuple[float, float]

DRAWS: Final = 2000
SEED: Final = 20
LEVEL: Final = 0.95
UNKNOWN: Final[Between] = (np.nan, np.nan)


def weights_of(counts: Sequence[int], draws: int = DRAWS, seed: int = SEED) -> Weights:
    """How often each event is taken in each draw, (draw, event), events of one log after those of another; `counts` by log."""
    random = np.random.default_rng(seed)
    sizes = [count for count in counts if count]
    times = _times(len(sizes), draws, random)
    taken = [random.multinomial(times[:, log] * size, np.full(size, 1.0 / size)) for log, size in enumerate(sizes)]
    return np.concatenate(taken, axis=1) if taken else np.zeros((draws, 0), dtype=np.int64)


def _times(logs: int, draws: int, random: np.random.Generator) -> Weights:
    """How often each log is taken in each draw, (draw, log)."""
    if logs == 1:
        return np.ones((draws, 1), dtype=np.int64)
    return random.multinomial(logs, np.full(logs, 1.0 / logs), size=draws) if logs else np.zeros((draws, 0), dtype=np.int64)


def share_between(hits: Sequence[int], counts: Sequence[int], draws: int = DRAWS, seed: int = SEED) -> Between:
    """95 % interval of the share of hits, by log; how many of a log's events a draw takes that hit is binomial, so none is drawn singly."""
    random = np.random.default_rng(seed)
    pairs = np.array([pair for pair in zip(hits, counts, strict=True) if pair[1]], dtype=np.int64).reshape(-1, 2)
    if not len(pairs):
        return UNKNOWN
    taken = _times(len(pairs), draws, random) * pairs[:, 1]
    return percentiles(random.binomial(taken, pairs[:, 0] / pairs[:, 1]).sum(axis=1) / taken.sum(axis=1))


def median_between(values: Array, weights: Weights) -> Between:
    """95 % interval of the median of (event,) values; the lower and upper middle are averaged, as usual."""
    if not len(values):
        return UNKNOWN
    order = np.argsort(values, kind="stable")
    ranked, reached = values[order], np.cumsum(weights[:, order], axis=1)
    number = reached[:, -1:]
    lower = ranked[np.argmax(reached >= (number + 1) // 2, axis=1)]
    upper = ranked[np.argmax(reached >= number // 2 + 1, axis=1)]
    return percentiles(0.5 * (lower + upper))


def percentiles(draws: Array) -> Between:
    """What lies between the tails of a (draw,) distribution."""
    low, high = np.quantile(draws, [0.5 - 0.5 * LEVEL, 0.5 + 0.5 * LEVEL])
    return float(low), float(high)


def hull(first: Between, second: Between) -> Between:
    """The wider of two at either end; one that isn't known says nothing."""
    low, high = np.fmin(first[0], second[0]), np.fmax(first[1], second[1])
    return float(low), float(high)
