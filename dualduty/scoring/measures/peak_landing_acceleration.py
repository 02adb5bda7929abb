"""How hard it lands: the largest upward seat acceleration through an impact channel class."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar, Final

from dualduty.scoring.fold_over import FoldOver
from dualduty.scoring.measure import Matters
from dualduty.scoring.reading import SEAT, Source
from dualduty.scoring.reduce import Moments
from dualduty.scoring.stages import TwoPass

if TYPE_CHECKING:
    from dualduty.car import Car
    from dualduty.scoring.measure import Direction, Fold, Needs
    from dualduty.trace import Header

CHANNEL_CLASS: Final = 60.0  # the class of SAE J211-1 for the motion of a structure as a whole


@dataclass(frozen=True)
class PeakLandingAcceleration:
    """Largest upward acceleration; free fall, which is -1 g, is no peak."""

    name: ClassVar[str] = "peak_landing_acceleration"
    label: ClassVar[str] = "peak landing acceleration"
    unit: ClassVar[str] = "m/s²"
    said: ClassVar[str] = "g"
    direction: ClassVar[Direction] = "lower"
    source: ClassVar[str] = "SAE J211-1, appendix C, CFC 60"
    needs: ClassVar[Needs] = "either"
    matters: ClassVar[Matters] = Matters(0.98, 0.05, "common practice: 0.1 g, about what two landings of one driver differ by at the least")
    moves_in_open_loop: ClassVar[bool] = False

    def start(self, header: Header, car: Car) -> Fold:
        """Two passes of the channel class, then the highest value."""
        return FoldOver(header, Source(header, *SEAT), Moments.highest, TwoPass(CHANNEL_CLASS))
