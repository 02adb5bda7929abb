"""How often the suspension bottoms, all corners together."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar, Final

import numpy as np

from dualduty.scoring.counters import Hits
from dualduty.scoring.fold_over import FoldOver
from dualduty.scoring.measure import Matters
from dualduty.scoring.reading import TRAVEL, Source

if TYPE_CHECKING:
    from dualduty.car import Car
    from dualduty.scoring.measure import Direction, Fold, Needs
    from dualduty.trace import Header

RELEASE: Final = 0.002  # m; travel sensors of this kind are good to a millimetre or two (common practice)
QUIET: Final = 0.1  # s; what rings on the stop within it is the same hit


@dataclass(frozen=True)
class HardStopCount:
    """Hits on the hard stop; four wheels that bottom once are four."""

    name: ClassVar[str] = "hard_stop_count"
    label: ClassVar[str] = "hard-stop hits"
    unit: ClassVar[str] = "1"
    said: ClassVar[str] = "1"
    direction: ClassVar[Direction] = "lower"
    source: ClassVar[str] = "common practice"
    needs: ClassVar[Needs] = "either"
    matters: ClassVar[Matters] = Matters(0.5, 0.0, "each one is felt and costs parts")
    moves_in_open_loop: ClassVar[bool] = False

    def start(self, header: Header, car: Car) -> Fold:
        """Count arrivals at the hard stop, add the corners up."""
        return FoldOver(header, Source(header, *TRAVEL), Hits(np.broadcast_to(car.hard_stop, 4), RELEASE, QUIET), pick="sum")
