"""How hard a corner bottoms: the largest force of its bump stop."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

from dualduty.scoring.fold_over import FoldOver
from dualduty.scoring.measure import Matters
from dualduty.scoring.reading import Channel, Source
from dualduty.scoring.reduce import Moments

if TYPE_CHECKING:
    from dualduty.car import Car
    from dualduty.scoring.measure import Direction, Fold, Needs
    from dualduty.trace import Header


@dataclass(frozen=True)
class PeakStopForce:
    """Largest bump-stop force at the shaft, worst corner; the droop stop has the other sign and is left out."""

    name: ClassVar[str] = "peak_stop_force"
    label: ClassVar[str] = "peak stop force"
    unit: ClassVar[str] = "N"
    said: ClassVar[str] = "kN"
    direction: ClassVar[Direction] = "lower"
    source: ClassVar[str] = "common practice"
    needs: ClassVar[Needs] = "truth"
    matters: ClassVar[Matters] = Matters(300.0, 0.05, "common practice: about a tenth of the static load of a corner")
    moves_in_open_loop: ClassVar[bool] = False

    def start(self, header: Header, car: Car) -> Fold:
        """The highest value."""
        return FoldOver(header, Source(header, Channel("truth", "stop_force")), Moments.highest)
