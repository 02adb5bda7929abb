"""How far a damper's oil warms."""

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
class OilWarming:
    """Warmest less coldest oil of the damper that warms most."""

    name: ClassVar[str] = "oil_warming"
    label: ClassVar[str] = "oil warming"
    unit: ClassVar[str] = "°C"
    said: ClassVar[str] = "°C"
    direction: ClassVar[Direction] = "lower"
    source: ClassVar[str] = "common practice"
    needs: ClassVar[Needs] = "truth"
    matters: ClassVar[Matters] = Matters(0.2, 0.10, "common practice: 0.2 °C in a section are about 3 °C a minute")
    moves_in_open_loop: ClassVar[bool] = False

    def start(self, header: Header, car: Car) -> Fold:
        """Range of the oil temperature."""
        return FoldOver(header, Source(header, Channel("truth", "oil_temperature")), Moments.span)
