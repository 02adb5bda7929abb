"""What drives a plant or reads a log: anything that maps sensed signals to two duties per damper, tick by tick."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class ControllerOutput:
    """What a controller made of a chunk; the fields are those of `TraceChunk` with the same names."""

    valid: dict[str, Array]
    quantities: dict[str, Array]
    states: dict[str, Array]
    strengths: dict[str, Array]
    asked: dict[str, Array]
    duty: dict[str, Array]
    layer: dict[str, NDArray[np.int16]]
    flags: dict[str, NDArray[np.uint8]]


class Controller(Protocol):
    """The same object runs one tick at a time in the closed loop and thousands of ticks at a time over a log."""

    @property
    def dt(self) -> float:
        """Step between ticks. [s]"""

    @property
    def cases(self) -> int:
        """Number of cases it was built for."""

    @property
    def modes(self) -> tuple[str, ...]:
        """Drive modes, by index."""

    @property
    def layers(self) -> tuple[str, ...]:
        """Layer names, from the base upward."""

    @property
    def states(self) -> tuple[str, ...]:
        """Names of all published states."""

    def start(self) -> Any:
        """Fresh memory for all cases."""

    def run(self, sensed: Array, mode: NDArray[np.int16], memory: Any) -> ControllerOutput:
        """Advance `memory` over a chunk.

        sensed : (row, time, case) array
            Rows by `signals.CONTROLLER_LAYOUT`; not written to. NaN where the channel gave nothing. [SI]
        mode : (1, time, case) int16 array
            Drive-mode index.
        """
