"""How near to the end of its stroke a corner comes."""

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
class PeakCompression:
    """Largest shaft travel over the stroke, worst corner."""

    name: ClassVar[str] = "peak_compression"
    label: ClassVar[str] = "peak compression"
    unit: ClassVar[str] = "1"
    said: ClassVar[str] = "%"
    direction: ClassVar[Direction] = "lower"
    source: ClassVar[str] = "common practice"
    needs: ClassVar[Needs] = "either"
    matters: ClassVar[Matters] = Matters(0.02, 0.0, "common practice: some 5 mm of a 250 mm shaft")
    moves_in_open_loop: ClassVar[bool] = False

    def start(self, header: Header, car: Car) -> Fold:
        """Highest travel over stroke."""
        stroke = np.broadcast_to(car.stroke, 4)[:, None, None]
        return FoldOver(header, Source(header, *TRAVEL), Moments.highest, Mapped(lambda travel: travel / stroke))
