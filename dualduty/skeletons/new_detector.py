"""NewDetector: say in one sentence what the vehicle or its ground does while this state is open."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from dualduty.cells import low_pass, trigger
from dualduty.contract import state
from dualduty.each_tick import each_tick, share, ticks
from dualduty.parameters import param


@each_tick
@dataclass(frozen=True)
class NewDetector:
    """What opens it and what closes it: one sentence.

    Formula: opens when |pitch rate|, smoothed, stays above `on_rate` for `on_delay`; closes below `off_rate` after `off_delay`.
    Source: author, title, year, equation or table; else "common practice", else "own".
    Holds for: ground, speeds, loads and drive modes for which the thresholds are meant.
    Not for: what looks alike to these sensors and is something else; what it costs to be late, and to be wrong.
    """

    on_rate: float = param(0.5, "rad/s", 0.01, 5.0, "pitch rate that opens it", said="deg/s")
    off_rate: float = param(0.3, "rad/s", 0.0, 5.0, "pitch rate below which it closes", said="deg/s")
    smooth_hz: float = param(10.0, "Hz", 0.5, 50.0, "corner frequency of the smoothing of pitch rate")
    on_delay: float = param(0.02, "s", 0.0, 1.0, "how long it must be above to open", said="ms")
    off_delay: float = param(0.1, "s", 0.0, 2.0, "how long it must be below to close", said="ms")
    stays: float = param(0.1, "s", 0.0, 2.0, "shortest time open", said="ms")

    ordered = (("off_rate", "on_rate"),)
    gives = (state("new_detector", "say what is true while it is open"),)

    def prepared(self, dt: float) -> dict[str, Any]:
        """What depends on parameters only, worked out once."""
        return {
            "smooth": share(self.smooth_hz, dt),
            "on_ticks": ticks(self.on_delay, dt),
            "off_ticks": ticks(self.off_delay, dt),
            "stay_ticks": ticks(self.stays, dt),
        }

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """One tick: 0 or 1, and a strength between them."""
        level = abs(low_pass(memory.rate, now.pitch_rate, self.smooth))
        out.new_detector = trigger(memory.open, level, self.on_rate, self.off_rate, self.on_ticks, self.off_ticks, self.stay_ticks)
        out.new_detector_strength = min(level / self.on_rate, 1.0)
