"""How firm a side is on average: what the calibration asks of the valves."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

from dualduty.scoring.fold_over import FoldOver
from dualduty.scoring.measure import Matters
from dualduty.scoring.reading import Channel, Source
from dualduty.scoring.reduce import Moments
from dualduty.signals import SIDES

if TYPE_CHECKING:
    from dualduty.car import Car
    from dualduty.scoring.measure import Direction, Fold, Needs
    from dualduty.trace import Header


@dataclass(frozen=True)
class MeanDuty:
    """Mean commanded duty of one side, at the firmest corner; neither good nor bad in itself."""

    side: str = "compression"

    unit: ClassVar[str] = "1"
    said: ClassVar[str] = "%"
    direction: ClassVar[Direction] = "none"
    source: ClassVar[str] = "common practice"
    needs: ClassVar[Needs] = "sensed"
    matters: ClassVar[Matters] = Matters(0.005, 0.0, "common practice: valves resolve about half a percent of duty")
    moves_in_open_loop: ClassVar[bool] = True

    @classmethod
    def variants(cls) -> tuple[MeanDuty, ...]:
        """One for each side."""
        return tuple(cls(side) for side in SIDES)

    @property
    def name(self) -> str:
        """Name with the side in it."""
        return f"mean_{self.side}_duty"

    @property
    def label(self) -> str:
        """Label with the side in it."""
        return f"mean {self.side} duty"

    def start(self, header: Header, car: Car) -> Fold:
        """Average."""
        return FoldOver(header, Source(header, Channel("duty", self.side)), Moments.mean)
