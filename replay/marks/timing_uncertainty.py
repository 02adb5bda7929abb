"""What the rate of a log leaves open about a latency."""

from __future__ import annotations

import math
from dataclasses import dataclass

from dualduty.errors import BadInput


@dataclass(frozen=True)
class TimingUncertainty:
    """Of one latency: how late it reads on average, how far off that it can be at most, and its standard deviation. [s]"""

    mean: float
    bound: float
    deviation: float

    @property
    def line(self) -> str:
        """In words, for a foot of a table."""
        return f"a latency is known to within ±{1e3 * self.bound:.1f} ms (standard deviation {1e3 * self.deviation:.1f} ms)"


def timing_uncertainty(log_rate: float, tick: float) -> TimingUncertainty:
    """Uncertainty of a latency that is read off a log.

    log_rate : float
        Samples a second of the slowest channel that the state is told from. [1/s]
    tick : float
        Step of the controller. [s]

    Notes
    -----
    Something happens between two samples, h = 1/log_rate apart; the first sample that shows it comes after a wait that is uniform over
    0 to h. The controller looks at its own ticks, T apart, which fall anywhere against the samples: it sees that sample after another wait,
    uniform over 0 to T. The two are independent, so what is read is late by their sum. Its mean is (h + T)/2; it differs from the mean by
    at most (h + T)/2, either way; its variance is the sum of those of two uniform waits, h²/12 + T²/12.

    A mark set by eye on the same samples has the first wait as well. A latency against such a mark is then off by less, never by more.
    """
    if not 0.0 < log_rate < math.inf or not 0.0 <= tick < math.inf:
        raise BadInput("timing uncertainty", f"expected a rate above 0 and a tick of 0 s or more, came {log_rate:g} 1/s and {tick:g} s")
    step = 1.0 / log_rate
    half = 0.5 * (step + tick)
    return TimingUncertainty(half, half, math.sqrt((step**2 + tick**2) / 12.0))
