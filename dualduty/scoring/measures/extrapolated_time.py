"""How long a damper moves faster than it was ever tested: there its force is extrapolated."""

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
class ExtrapolatedTime:
    """Time beyond the tested shaft speeds, of the damper that is there longest; any of it makes a landing's figures a guess."""

    name: ClassVar[str] = "extrapolated_time"
    label: ClassVar[str] = "time beyond the tested shaft speeds"
    unit: ClassVar[str] = "s"
    said: ClassVar[str] = "ms"
    direction: ClassVar[Direction] = "lower"
    source: ClassVar[str] = "common practice"
    needs: ClassVar[Needs] = "truth"
    matters: ClassVar[Matters] = Matters(0.005, 0.10, "common practice: a few milliseconds of a landing's first stroke")
    moves_in_open_loop: ClassVar[bool] = False

    def start(self, header: Header, car: Car) -> Fold:
        """Add up the samples beyond."""
        return FoldOver(header, Source(header, Channel("truth", "beyond_map")), Moments.time)
