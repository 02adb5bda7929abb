"""How much of its stroke the suspension works through."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

import numpy as np

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
class TravelUsed:
    """Largest less smallest shaft travel over the stroke, at the corner that works most; neither good nor bad in itself."""

    name: ClassVar[str] = "travel_used"
    label: ClassVar[str] = "travel used"
    unit: ClassVar[str] = "1"
    said: ClassVar[str] = "%"
    direction: ClassVar[Direction] = "none"
    source: ClassVar[str] = "common practice"
    needs: ClassVar[Needs] = "either"
    matters: ClassVar[Matters] = Matters(0.02, 0.0, "common practice: some 5 mm of a 250 mm shaft")
    moves_in_open_loop: ClassVar[bool] = False

    def start(self, header: Header, car: Car) -> Fold:
        """Span of travel over stroke."""
        stroke = np.broadcast_to(car.stroke, 4)[:, None, None]
        return FoldOver(header, Source(header, *TRAVEL), Moments.span, Mapped(lambda travel: travel / stroke))
