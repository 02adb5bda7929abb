"""The worst second of the ride: the maximum transient vibration value."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

from dualduty.scoring.fold_over import FoldOver
from dualduty.scoring.measure import Matters
from dualduty.scoring.reading import SEAT, Source
from dualduty.scoring.stages import Weighted
from dualduty.scoring.weighting import FELT, WK
from dualduty.scoring.worst_second import WorstSecond

if TYPE_CHECKING:
    from dualduty.car import Car
    from dualduty.scoring.measure import Direction, Fold, Needs
    from dualduty.trace import Header


@dataclass(frozen=True)
class WorstSecondVibration:
    """Largest running r.m.s. of weighted seat acceleration over a linear second (MTVV)."""

    name: ClassVar[str] = "worst_second_vibration"
    label: ClassVar[str] = "worst second of vibration"
    unit: ClassVar[str] = "m/s²"
    said: ClassVar[str] = "m/s²"
    direction: ClassVar[Direction] = "lower"
    source: ClassVar[str] = "ISO 2631-1:1997, 6.3.1, linear running r.m.s. over 1 s, Wk"
    needs: ClassVar[Needs] = "either"
    matters: ClassVar[Matters] = Matters(0.04, 0.05, FELT)
    moves_in_open_loop: ClassVar[bool] = False

    def start(self, header: Header, car: Car) -> Fold:
        """Weight, slide a second over it."""
        return FoldOver(header, Source(header, *SEAT), WorstSecond(1.0), Weighted(WK))
