"""What a landing does to a seated spine: the Dynamic Response Index."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar, Final

from dualduty.scoring.fold_over import FoldOver
from dualduty.scoring.measure import Matters
from dualduty.scoring.reading import SEAT, Source
from dualduty.scoring.reduce import Moments
from dualduty.scoring.stages import Mapped, Oscillator
from dualduty.units import STANDARD_GRAVITY

if TYPE_CHECKING:
    from dualduty.car import Car
    from dualduty.scoring.measure import Direction, Fold, Needs
    from dualduty.trace import Header

FREQUENCY: Final = 52.9  # rad/s, NATO STANAG 4569 / AEP-55, read from a secondary source
DAMPING: Final = 0.224  # same source


@dataclass(frozen=True)
class SpineResponse:
    """Largest compression of the spine model, as the static load in g that would give it."""

    name: ClassVar[str] = "spine_response"
    label: ClassVar[str] = "spine response (DRI)"
    unit: ClassVar[str] = "1"
    said: ClassVar[str] = "1"
    direction: ClassVar[Direction] = "lower"
    source: ClassVar[str] = "NATO STANAG 4569 / AEP-55 (secondary source): 52.9 rad/s, damping ratio 0.224, limit 17.7"
    needs: ClassVar[Needs] = "either"
    matters: ClassVar[Matters] = Matters(0.5, 0.05, "common practice: the risk tables step by two units")
    moves_in_open_loop: ClassVar[bool] = False

    def start(self, header: Header, car: Car) -> Fold:
        """Seat acceleration through the spine model, then the highest value."""
        spine = Oscillator(FREQUENCY, DAMPING)
        return FoldOver(header, Source(header, *SEAT), Moments.highest, spine, Mapped(lambda pull: pull / STANDARD_GRAVITY))
