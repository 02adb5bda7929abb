"""A controller that only looks: intake, estimators and detectors of a calibration, without layers and supervisor."""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.calibration.model import Calibration
from dualduty.controller import ControllerOutput
from dualduty.discovery import Found, PlugIns
from dualduty.errors import BadInput
from dualduty.signals import SIGNALS
from strategies.board import BoardLayout
from strategies.dependence import needs_of
from strategies.part import first_not_a_number
from strategies.pieces import piece_cuts
from strategies.senses import BoundSenses, Candidates, Senses, signals_used
from strategies.strategy_memory import StrategyMemory

Array = NDArray[np.float64]
BLOCK: Final = 2040  # ticks x cases of a piece


class Detections:
    """States, strengths and quantities to the bit as the whole `Strategy` has them, and no duties.

    Parameters
    ----------
    calibrations : sequence of Calibration
        Candidates; of the same drive modes and with the same suppliers of what is wanted.
    candidate_of_case : sequence of int
        Which candidate each case runs.
    plug_ins : PlugIns
        Where the classes come from.
    dt : float
        Step between ticks. [s]
    states : sequence of str
        Only these states, and what they are made of; all that the calibration has where none is named.
    """

    layers: tuple[str, ...] = ()

    def __init__(
        self,
        calibrations: Sequence[Calibration],
        candidate_of_case: Sequence[int],
        plug_ins: PlugIns,
        dt: float,
        *,
        states: Sequence[str] = (),
    ) -> None:
        first = calibrations[0]
        suppliers = wanted_suppliers(first, plug_ins, states)
        for other in calibrations[1:]:
            if other.modes != first.modes or wanted_suppliers(other, plug_ins, states) != suppliers:
                raise BadInput(
                    other.file, f"has other drive modes or suppliers than {first.file}; such candidates need a batch of their own"
                )
        self.dt = dt
        self.cases = len(candidate_of_case)
        self.modes = first.modes
        self.states = tuple(given.name for found in suppliers for given in found.gives if given.is_state)
        self.layout = BoardLayout(suppliers, ())
        self.used = signals_used(first, plug_ins)
        givers = {given.name: found for found in suppliers for given in found.gives}
        needed = needs_of(states or givers, givers)
        self.required = tuple(name for name in SIGNALS if name in needed)
        self._senses = Senses(Candidates(calibrations, candidate_of_case, dt), suppliers, self.layout)
        self._bindings: dict[bytes, BoundSenses] = {}

    def start(self) -> StrategyMemory:
        """Fresh memory for all cases."""
        return StrategyMemory(self.dt)

    def run(self, sensed: Array, mode: NDArray[np.int16], memory: StrategyMemory) -> ControllerOutput:
        """Advance `memory` over a chunk.

        sensed : (row, time, case) array
            Rows by `CONTROLLER_LAYOUT`. [SI]
        mode : (1, time, case) int16 array
            Drive-mode index.
        """
        rows = self.published(sensed, mode, memory)
        names = self.layout.output
        valid, quantities, states, strengths = (
            {name: rows[place] for name, place in part.items()} for part in (names.valid, names.quantities, names.states, names.strengths)
        )
        return ControllerOutput(valid, quantities, states, strengths, asked={}, duty={}, layer={}, flags={})

    def published(self, sensed: Array, mode: NDArray[np.int16], memory: StrategyMemory) -> Array:
        """As `run`, in one array: (row, time, case), rows by `layout.output`."""
        longest = max(BLOCK // self.cases, 1)
        published = self.layout.published
        rows = np.empty((published.stop - published.start, *sensed.shape[1:]))
        board = self.layout.empty(min(longest, sensed.shape[1]) * self.cases)
        for begin, end in pairwise(piece_cuts(mode, longest)):
            now, _ = self._senses.advance(self._bound(mode[0, begin]), np.ascontiguousarray(sensed[:, begin:end]), board, memory)
            rows[:, begin:end] = board[published, : (end - begin) * self.cases].reshape(-1, end - begin, self.cases)
            if not np.isfinite(rows[:, begin:end].sum()) and not np.isfinite(rows[:, begin:end]).all():
                raise first_not_a_number(self._senses.parts, now)
        return rows

    def _bound(self, modes: NDArray[np.int16]) -> BoundSenses:
        key = modes.tobytes()
        bound = self._bindings.get(key)
        if bound is None:
            bound = self._bindings[key] = self._senses.bind(key)
        return bound


def wanted_suppliers(calibration: Calibration, plug_ins: PlugIns, states: Sequence[str]) -> tuple[Found, ...]:
    """Suppliers of a calibration in running order: those that the wanted states are made of, or all."""
    every = tuple(plug_ins.by_name[name] for name in calibration.suppliers)
    if not states:
        return every
    givers = {given.name: found for found in every for given in found.gives}
    known = [given.name for found in every for given in found.gives if given.is_state]
    wanted: set[str] = set()
    waiting = list(states)
    for name in states:
        if name not in known:
            near = difflib.get_close_matches(name, known, n=1)
            hint = f"did you mean {near[0]!r}?" if near else f"it has {', '.join(known)}"
            raise BadInput(calibration.file, f"{name!r} is no state of this strategy; {hint}")
    while waiting:
        found = givers.get(waiting.pop())
        if found is not None and found.name not in wanted:
            wanted.add(found.name)
            waiting += found.reads
    return tuple(found for found in every if found.name in wanted)
