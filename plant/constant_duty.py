"""A controller that never changes its mind: the duties of an unpowered or fixed damper."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dualduty.controller import ControllerOutput
from dualduty.signals import CONTROLLER_LAYOUT, SIDES

Array = NDArray[np.float64]


@dataclass(frozen=True)
class ConstantDuty:
    """Fixed duties for all cases: also what a map of the electronics switched off looks like.

    compression, rebound : float or (4, 1, case) array
        [1]
    """

    cases: int
    compression: Any = 0.0
    rebound: Any = 0.0
    dt: float = 0.002
    modes: tuple[str, ...] = ("fixed",)
    layers: tuple[str, ...] = ("fixed",)
    states: tuple[str, ...] = ()

    def start(self) -> Any:
        """Nothing is remembered."""
        return None

    def run(self, sensed: Array, mode: NDArray[np.int16], memory: Any) -> ControllerOutput:
        """The same duties at every tick of the chunk, whatever is sensed."""
        shape = (4, sensed.shape[1], sensed.shape[2])
        duty = {side: np.broadcast_to(np.asarray(getattr(self, side), float), shape) for side in SIDES}
        return ControllerOutput(
            valid=CONTROLLER_LAYOUT.split(np.isfinite(sensed).astype(float)),
            quantities={},
            states={},
            strengths={},
            asked=duty,
            duty=duty,
            layer={side: np.zeros(shape, np.int16) for side in SIDES},
            flags={side: np.zeros(shape, np.uint8) for side in SIDES},
        )
