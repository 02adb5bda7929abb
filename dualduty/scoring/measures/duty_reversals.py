"""How nervous the commands are: how often a duty turns round."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

from dualduty.scoring.counters import Reversals
from dualduty.scoring.fold_over import FoldOver
from dualduty.scoring.measure import Matters
from dualduty.scoring.reading import Channel, Source
from dualduty.signals import SIDES

if TYPE_CHECKING:
    from dualduty.car import Car
    from dualduty.scoring.measure import Direction, Fold, Needs
    from dualduty.trace import Header


@dataclass(frozen=True)
class DutyReversals:
    """Turns per second of the commanded duty of one side that go back by more than `hysteresis`, at the busiest corner."""

    side: str = "compression"
    hysteresis: float = 0.05

    unit: ClassVar[str] = "1/s"
    said: ClassVar[str] = "1/s"
    direction: ClassVar[Direction] = "lower"
    source: ClassVar[str] = "common practice; hysteresis 5 % of duty"
    needs: ClassVar[Needs] = "sensed"
    matters: ClassVar[Matters] = Matters(0.5, 0.10, "common practice: half a turn a second is one in four body cycles")
    moves_in_open_loop: ClassVar[bool] = True

    @classmethod
    def variants(cls) -> tuple[DutyReversals, ...]:
        """One for each side."""
        return tuple(cls(side) for side in SIDES)

    @property
    def name(self) -> str:
        """Name with the side in it."""
        return f"{self.side}_duty_reversals"

    @property
    def label(self) -> str:
        """Label with the side in it."""
        return f"{self.side} duty reversals"

    def start(self, header: Header, car: Car) -> Fold:
        """Count turns, over time."""
        return FoldOver(header, Source(header, Channel("duty", self.side)), Reversals(self.hysteresis))
