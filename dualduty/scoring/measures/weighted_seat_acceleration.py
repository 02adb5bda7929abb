"""Ride comfort: the frequency-weighted r.m.s. of vertical seat acceleration."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

from dualduty.scoring.fold_over import FoldOver
from dualduty.scoring.measure import Matters
from dualduty.scoring.reading import SEAT, Source
from dualduty.scoring.reduce import Moments
from dualduty.scoring.stages import Weighted
from dualduty.scoring.weighting import FELT, WK

if TYPE_CHECKING:
    from dualduty.car import Car
    from dualduty.scoring.measure import Direction, Fold, Needs
    from dualduty.trace import Header


@dataclass(frozen=True)
class WeightedSeatAcceleration:
    """Weighted r.m.s. acceleration a_w over the section."""

    name: ClassVar[str] = "weighted_seat_acceleration"
    label: ClassVar[str] = "weighted seat acceleration"
    unit: ClassVar[str] = "m/s²"
    said: ClassVar[str] = "m/s²"
    direction: ClassVar[Direction] = "lower"
    source: ClassVar[str] = "ISO 2631-1:1997, 6.1 and annex A, Wk"
    needs: ClassVar[Needs] = "either"
    matters: ClassVar[Matters] = Matters(0.02, 0.05, FELT)
    moves_in_open_loop: ClassVar[bool] = False

    def start(self, header: Header, car: Car) -> Fold:
        """Weight, square, average."""
        return FoldOver(header, Source(header, *SEAT), Moments.root_mean_square, Weighted(WK))
