"""How evenly a tyre is pressed on the ground."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

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


@dataclass(frozen=True)
class TyreLoadVariation:
    """Standard deviation of wheel load over the static load, worst corner."""

    name: ClassVar[str] = "tyre_load_variation"
    label: ClassVar[str] = "tyre-load variation"
    unit: ClassVar[str] = "1"
    said: ClassVar[str] = "%"
    direction: ClassVar[Direction] = "lower"
    source: ClassVar[str] = "common practice (dynamic load coefficient)"
    needs: ClassVar[Needs] = "truth"
    matters: ClassVar[Matters] = Matters(0.01, 0.03, "common practice: a percent of load is less than a percent of grip")
    moves_in_open_loop: ClassVar[bool] = False

    def start(self, header: Header, car: Car) -> Fold:
        """Load over static load, less 1 to keep the digits, then its deviation."""
        static = np.broadcast_to(car.static_wheel_load, 4)[:, None, None]
        return FoldOver(header, Source(header, Channel("truth", "wheel_load")), Moments.deviation, Mapped(lambda load: load / static - 1.0))
