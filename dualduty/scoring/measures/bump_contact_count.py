"""How often a corner comes down on its bump stop."""

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
QUIET: Final = 0.1  # s; a wheel hopping on the stop at 10 Hz and more is one contact


@dataclass(frozen=True)
class BumpContactCount:
    """Contacts of the corner that touches most often."""

    name: ClassVar[str] = "bump_contact_count"
    label: ClassVar[str] = "bump-stop contacts"
    unit: ClassVar[str] = "1"
    said: ClassVar[str] = "1"
    direction: ClassVar[Direction] = "lower"
    source: ClassVar[str] = "common practice"
    needs: ClassVar[Needs] = "either"
    matters: ClassVar[Matters] = Matters(0.5, 0.10, "one contact more on a short section; a tenth where there are many")
    moves_in_open_loop: ClassVar[bool] = False

    def start(self, header: Header, car: Car) -> Fold:
        """Count arrivals at the bump stop."""
        return FoldOver(header, Source(header, *TRAVEL), Hits(np.broadcast_to(car.bump_contact, 4), RELEASE, QUIET))
