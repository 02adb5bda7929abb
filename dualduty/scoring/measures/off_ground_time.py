"""How long a wheel is off the ground."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar, Final

import numpy as np

from dualduty.scoring.fold_over import FoldOver
from dualduty.scoring.measure import Matters
from dualduty.scoring.reading import Channel, Source
from dualduty.scoring.reduce import Moments
from dualduty.scoring.stages import Mapped

if TYPE_CHECKING:
    from dualduty.car import Car
    from dualduty.scoring.measure import Direction, Fold, Needs
    from dualduty.trace import Header

LIFTED: Final = 0.01  # share of static load below which a wheel steers and drives nothing (common practice)


@dataclass(frozen=True)
class OffGroundTime:
    """Time off the ground of the wheel that is off longest; the other corners stand beside it."""

    name: ClassVar[str] = "off_ground_time"
    label: ClassVar[str] = "time off the ground"
    unit: ClassVar[str] = "s"
    said: ClassVar[str] = "ms"
    direction: ClassVar[Direction] = "lower"
    source: ClassVar[str] = "common practice"
    needs: ClassVar[Needs] = "truth"
    matters: ClassVar[Matters] = Matters(0.02, 0.05, "common practice: shorter than a wheel-hop half-cycle at 15 Hz can't be used or felt")
    moves_in_open_loop: ClassVar[bool] = False

    def start(self, header: Header, car: Car) -> Fold:
        """Add up the samples without load."""
        lifted = LIFTED * np.broadcast_to(car.static_wheel_load, 4)[:, None, None]
        free = Mapped(lambda load: (load <= lifted) + load * 0.0)
        return FoldOver(header, Source(header, Channel("truth", "wheel_load")), Moments.time, free)
