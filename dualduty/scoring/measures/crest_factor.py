"""How far single shocks stand out of the ride; above 9 the weighted r.m.s. alone understates it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

from dualduty.scoring.fold_over import FoldOver
from dualduty.scoring.measure import Matters
from dualduty.scoring.reading import SEAT, Source
from dualduty.scoring.reduce import Moments
from dualduty.scoring.stages import Weighted
from dualduty.scoring.weighting import WK

if TYPE_CHECKING:
    from dualduty.car import Car
    from dualduty.scoring.measure import Direction, Fold, Needs
    from dualduty.trace import Header


@dataclass(frozen=True)
class CrestFactor:
    """Peak over r.m.s. of weighted seat acceleration."""

    name: ClassVar[str] = "crest_factor"
    label: ClassVar[str] = "crest factor"
    unit: ClassVar[str] = "1"
    said: ClassVar[str] = "1"
    direction: ClassVar[Direction] = "none"
    source: ClassVar[str] = "ISO 2631-1:1997, 6.2.1, Wk"
    needs: ClassVar[Needs] = "either"
    matters: ClassVar[Matters] = Matters(0.5, 0.10, "common practice: a ratio of a single peak, read beside the dose and never alone")
    moves_in_open_loop: ClassVar[bool] = False

    def start(self, header: Header, car: Car) -> Fold:
        """Weight, compare peak and r.m.s."""
        return FoldOver(header, Source(header, *SEAT), Moments.crest, Weighted(WK))
