"""How restless the body is in roll."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

from dualduty.scoring.fold_over import FoldOver
from dualduty.scoring.measure import Matters
from dualduty.scoring.reading import Channel, Source
from dualduty.scoring.reduce import Moments

if TYPE_CHECKING:
    from dualduty.car import Car
    from dualduty.scoring.measure import Direction, Fold, Needs
    from dualduty.trace import Header


@dataclass(frozen=True)
class RollRateRms:
    """Root mean square of the sensed roll rate."""

    name: ClassVar[str] = "roll_rate_rms"
    label: ClassVar[str] = "roll rate, r.m.s."
    unit: ClassVar[str] = "rad/s"
    said: ClassVar[str] = "deg/s"
    direction: ClassVar[Direction] = "lower"
    source: ClassVar[str] = "common practice"
    needs: ClassVar[Needs] = "sensed"
    matters: ClassVar[Matters] = Matters(0.0087, 0.05, "common practice: half a degree per second, about the noise of the sensor")
    moves_in_open_loop: ClassVar[bool] = False

    def start(self, header: Header, car: Car) -> Fold:
        """Root mean square."""
        return FoldOver(header, Source(header, Channel("signal", "roll_rate")), Moments.root_mean_square)
