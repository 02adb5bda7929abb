"""How much of the time a corner rides on its bump stop."""

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
class BumpContactShare:
    """Share of time on the bump stop, at the corner that is on it longest."""

    name: ClassVar[str] = "bump_contact_share"
    label: ClassVar[str] = "time on the bump stop"
    unit: ClassVar[str] = "1"
    said: ClassVar[str] = "%"
    direction: ClassVar[Direction] = "lower"
    source: ClassVar[str] = "common practice"
    needs: ClassVar[Needs] = "either"
    matters: ClassVar[Matters] = Matters(0.005, 0.10, "common practice: half a percent of a section is a contact or two")
    moves_in_open_loop: ClassVar[bool] = False

    def start(self, header: Header, car: Car) -> Fold:
        """Share of samples at or beyond first touch."""
        touch = np.broadcast_to(car.bump_contact, 4)[:, None, None]
        return FoldOver(header, Source(header, *TRAVEL), Moments.mean, Mapped(lambda travel: (travel >= touch) + travel * 0.0))
