"""How far the body rolls: the largest roll angle against the horizon."""

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
class PeakRoll:
    """Largest magnitude of body roll; on a side slope or a bank the ground's own angle is in it."""

    name: ClassVar[str] = "peak_roll"
    label: ClassVar[str] = "peak roll"
    unit: ClassVar[str] = "rad"
    said: ClassVar[str] = "deg"
    direction: ClassVar[Direction] = "lower"
    source: ClassVar[str] = "ISO 8855:2011, angles; peak by common practice"
    needs: ClassVar[Needs] = "truth"
    matters: ClassVar[Matters] = Matters(0.0044, 0.05, "common practice: a quarter of a degree is about what a driver remarks on")
    moves_in_open_loop: ClassVar[bool] = False

    def start(self, header: Header, car: Car) -> Fold:
        """Largest magnitude."""
        return FoldOver(header, Source(header, Channel("truth", "roll")), Moments.peak)
