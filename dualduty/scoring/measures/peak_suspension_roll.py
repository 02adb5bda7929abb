"""How far the body leans on its springs: roll against the wheels, from the four travels."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

from dualduty.scoring.attitude import suspension_roll
from dualduty.scoring.fold_over import FoldOver
from dualduty.scoring.measure import Matters
from dualduty.scoring.reading import TRAVEL, Source
from dualduty.scoring.reduce import Moments
from dualduty.scoring.stages import Mapped

if TYPE_CHECKING:
    from dualduty.car import Car
    from dualduty.scoring.measure import Direction, Fold, Needs
    from dualduty.trace import Header


@dataclass(frozen=True)
class PeakSuspensionRoll:
    """Largest magnitude of suspension roll, mean of front and rear; a bank is not in it, so it serves on logs too."""

    name: ClassVar[str] = "peak_suspension_roll"
    label: ClassVar[str] = "peak suspension roll"
    unit: ClassVar[str] = "rad"
    said: ClassVar[str] = "deg"
    direction: ClassVar[Direction] = "lower"
    source: ClassVar[str] = "common practice"
    needs: ClassVar[Needs] = "either"
    matters: ClassVar[Matters] = Matters(0.0044, 0.05, "common practice: a quarter of a degree is about what a driver remarks on")
    moves_in_open_loop: ClassVar[bool] = False

    def start(self, header: Header, car: Car) -> Fold:
        """Travels to roll, then its largest magnitude."""
        roll = Mapped(lambda travel: suspension_roll(travel, car.motion_ratio, car.static_travel, car.half_track), combine=True)
        return FoldOver(header, Source(header, *TRAVEL), Moments.peak, roll)
