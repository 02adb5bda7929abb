"""NewEstimator: say in one sentence which quantity it tells that no sensor gives."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from dualduty.cells import low_pass
from dualduty.contract import quantity
from dualduty.each_tick import each_tick, share
from dualduty.parameters import param


@each_tick
@dataclass(frozen=True)
class NewEstimator:
    """What it estimates, from which signals: one sentence.

    Formula: shaft travel through a first-order lag.
    Source: author, title, year, equation or table; else "common practice", else "own".
    Holds for: the band of frequencies, the size of motion and the sensors for which it is right, and how wrong it may be there.
    Not for: where it drifts, lags or is fooled; which signals it can do without (`does_without`), and what it says then.
    """

    smooth_hz: float = param(1.0, "Hz", 0.05, 50.0, "corner frequency of the smoothing of shaft travel")

    gives = (quantity("new_estimator", "m", "say what it means, and which way is positive", corners=4),)

    def prepared(self, dt: float) -> dict[str, Any]:
        """What depends on parameters only, worked out once."""
        return {"smooth": share(self.smooth_hz, dt)}

    def tick(self: Any, now: Any, memory: Any, out: Any) -> None:
        """One tick, in SI units; a quantity that changes sign with left and right exchanged is declared with mirror=-1."""
        for corner in range(4):
            out.new_estimator[corner] = low_pass(memory.travel[corner], now.shaft_travel[corner], self.smooth)
