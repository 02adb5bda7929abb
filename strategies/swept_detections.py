"""Detectors with many values of a parameter over one log: what they read is worked out once, for all values."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.calibration.bind import bind
from dualduty.calibration.model import Calibration
from dualduty.calibration.settings import Settings
from dualduty.controller import ControllerOutput
from dualduty.discovery import Found, PlugIns
from dualduty.errors import BadInput
from dualduty.signals import SIGNALS
from strategies.board import BoardLayout
from strategies.dependence import needs_of
from strategies.detections import BLOCK, wanted_suppliers
from strategies.pieces import piece_cuts
from strategies.senses import BoundSenses, Candidates, Senses, signals_used
from strategies.strategy_memory import StrategyMemory
from strategies.swept_cases import Edges, SweptCases, SweptPart, swept_parts

Array = NDArray[np.float64]
WORKERS: Final = 2  # the cases go through the compiled loops in so many threads


class SweepMemory:
    """What the shared part remembers, what each share of the cases does, and all changes of the state so far."""

    def __init__(self, dt: float, shares: Sequence[SweptCases]) -> None:
        self.shared = StrategyMemory(dt)
        self.shares = tuple(shares)
        self.waiting: list[Future[None]] = []
        self.ticks = 0

    def snapshot(self) -> None:
        """Nothing: a sweep is never resumed, and its changes would be copied at every chunk."""

    def settle(self) -> None:
        """Wait for what still runs; raises what went wrong in it."""
        waiting, self.waiting = self.waiting, []
        for future in waiting:
            future.result()


class SweptDetections:
    """A controller of one case that carries many: only what depends on the swept classes runs once for each.

    Parameters
    ----------
    calibration : Calibration
        Where all else comes from.
    swept : mapping of str to sequence of Settings
        Settings of the swept estimators or detectors by class name, one entry per case.
    plug_ins : PlugIns
        Where the classes come from.
    dt : float
        Step between ticks. [s]
    state : str
        Whose changes are wanted.
    """

    cases = 1
    layers: tuple[str, ...] = ()

    def __init__(self, calibration: Calibration, swept: Mapping[str, Sequence[Settings]], plug_ins: PlugIns, dt: float, state: str) -> None:
        suppliers = wanted_suppliers(calibration, plug_ins, [state])
        self.dt, self.modes, self.states, self.state = dt, calibration.modes, (state,), state
        self.used = signals_used(calibration, plug_ins)
        givers = {given.name: found for found in suppliers for given in found.gives}
        needed = needs_of([state], givers)
        self.required = tuple(name for name in SIGNALS if name in needed)
        idle = [name for name in swept if name not in {found.name for found in suppliers}]
        if idle:
            raise BadInput(calibration.file, f"{state} does not depend on {idle[0]}")
        below = _depending(suppliers, set(swept))
        layout = BoardLayout(suppliers, ())
        self._senses = Senses(Candidates([calibration], [0], dt), [found for found in suppliers if found not in below], layout)
        self._parts = swept_parts(below, layout, state)
        self._rows = layout.rows[state][1]
        self._calibration, self._swept = calibration, swept
        self._set_distinct(len(next(iter(swept.values()))))
        self._bindings: dict[bytes, tuple[BoundSenses, list[Array]]] = {}
        self._pool = ThreadPoolExecutor(WORKERS)
        self._latest = SweepMemory(dt, ())

    def _set_distinct(self, count: int) -> None:
        """Run cases once that come to the same numbers in every drive mode, as times do that round to the same tick."""
        every = [self._packed(index, range(count)) for index in range(len(self.modes))]
        numbers = [np.broadcast_to(values, (count, values.shape[1])) for each in every for values in each]
        _, first, self._case_of = np.unique(np.concatenate(numbers, axis=1), axis=0, return_index=True, return_inverse=True)
        self._distinct = [int(index) for index in first]

    def start(self) -> SweepMemory:
        """Fresh memory for all cases; `changes` tells of the latest."""
        cuts = np.linspace(0, len(self._distinct), WORKERS + 1).astype(int)
        shares = [SweptCases(self._parts, self._rows, slice(int(a), int(b))) for a, b in pairwise(cuts) if b > a]
        self._latest = SweepMemory(self.dt, shares)
        return self._latest

    def run(self, sensed: Array, mode: NDArray[np.int16], memory: SweepMemory) -> ControllerOutput:
        """Advance `memory` over a chunk; `changes` tells of the state.

        sensed : (row, time, 1) array
            Rows by `CONTROLLER_LAYOUT`. [SI]
        mode : (1, time, 1) int16 array
            Drive-mode index.
        """
        board = self._senses.layout.empty(min(BLOCK, sensed.shape[1]))
        for begin, end in pairwise(piece_cuts(mode, BLOCK)):
            senses, values = self._bound(mode[0, begin])
            self._senses.advance(senses, np.ascontiguousarray(sensed[:, begin:end]), board, memory.shared)
            packed = [np.ascontiguousarray(board[part.read, : end - begin].T) for part in self._parts]
            memory.settle()
            memory.waiting = [self._pool.submit(share.advance, packed, values, memory.ticks) for share in memory.shares]
            memory.ticks += end - begin
        return ControllerOutput({}, {}, {}, {}, {}, {}, {}, {})

    def changes(self) -> list[Edges]:
        """First tick of each stretch of the state and the one after its last, (stretch, 2), by case and by row of the state."""
        self._latest.settle()
        found = [case for share in self._latest.shares for case in share.stretches(self.ran)]
        return [found[index] for index in self._case_of]

    @property
    def ran(self) -> int:
        """Ticks of the latest pass so far."""
        return self._latest.ticks

    def close(self) -> None:
        """Let go of the threads."""
        self._pool.shutdown()

    def _bound(self, modes: NDArray[np.int16]) -> tuple[BoundSenses, list[Array]]:
        key = modes.tobytes()
        found = self._bindings.get(key)
        if found is None:
            (index,) = self._senses.candidates.mode_row(key)
            found = self._bindings[key] = (self._senses.bind(key), self._packed(index, self._distinct))
        return found

    def _packed(self, mode: int, cases: Sequence[int]) -> list[Array]:
        """Values of each part that runs once per case, (1 or case, number)."""
        return [part.plan.pack(self._plug_in(part, mode, cases), len(cases), self.dt) for part in self._parts]

    def _plug_in(self, part: SweptPart, mode: int, cases: Sequence[int]) -> object:
        found = part.found
        each = self._swept.get(found.name)
        if each is None:
            return bind(found.cls, [self._calibration.settings[f"{found.kind}s.{found.name}"]], [0] * len(cases), [mode] * len(cases))
        return bind(found.cls, each, cases, [mode] * len(cases))


def _depending(suppliers: Sequence[Found], swept: set[str]) -> list[Found]:
    """The swept suppliers and all that read, through others too, what they give."""
    below: list[Found] = []
    given: set[str] = set()
    for found in suppliers:
        if found.name in swept or given.intersection(found.reads):
            below.append(found)
            given.update(entry.name for entry in found.gives)
    return below
