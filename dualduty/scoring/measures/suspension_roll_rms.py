"""How much the body leans on its springs all along: roll against the wheels, from the four travels."""

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


SEEDS = "three times the 0.3 % by which a paired difference scatters over 12 seeds of the demo's corner sections; below that, 0.02 deg"


@dataclass(frozen=True)
class SuspensionRollRms:
    """Root mean square about zero of suspension roll, mean of front and rear; a bank is not in it, so it serves on logs too."""

    name: ClassVar[str] = "suspension_roll_rms"
    label: ClassVar[str] = "suspension roll, r.m.s."
    unit: ClassVar[str] = "rad"
    said: ClassVar[str] = "deg"
    direction: ClassVar[Direction] = "lower"
    source: ClassVar[str] = "common practice"
    needs: ClassVar[Needs] = "either"
    matters: ClassVar[Matters] = Matters(0.00035, 0.01, SEEDS)
    moves_in_open_loop: ClassVar[bool] = False

    def start(self, header: Header, car: Car) -> Fold:
        """Travels to roll, then its root mean square."""
        roll = Mapped(lambda travel: suspension_roll(travel, car.motion_ratio, car.static_travel, car.half_track), combine=True)
        return FoldOver(header, Source(header, *TRAVEL), Moments.root_mean_square, roll)
