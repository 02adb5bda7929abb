"""Ride with shocks in it: the fourth-power vibration dose of the seat."""

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
class VibrationDose:
    """Vibration dose value of the section; grows with its length."""

    name: ClassVar[str] = "vibration_dose"
    label: ClassVar[str] = "vibration dose value"
    unit: ClassVar[str] = "m/s^1.75"
    said: ClassVar[str] = "m/s^1.75"
    direction: ClassVar[Direction] = "lower"
    source: ClassVar[str] = "ISO 2631-1:1997, 6.3.2, Wk"
    needs: ClassVar[Needs] = "either"
    matters: ClassVar[Matters] = Matters(0.05, 0.05, FELT)
    moves_in_open_loop: ClassVar[bool] = False

    def start(self, header: Header, car: Car) -> Fold:
        """Weight, integrate the fourth power."""
        return FoldOver(header, Source(header, *SEAT), Moments.dose, Weighted(WK))
