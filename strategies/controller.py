"""The whole strategy: intake, estimators and detectors, layers of laws, supervisor.

Every chunk is cut wherever any case changes drive mode, so parameters are constant within each call of a plug-in.
All parts work on one board (`strategies.board`): a plug-in in tick form is one compiled call on its rows, one in array
form gets arrays made of them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.calibration.model import Calibration, LayerPlan
from dualduty.controller import PackedOutput, Record
from dualduty.discovery import PlugIns
from dualduty.errors import BadInput
from strategies.board import BoardChunk, BoardLayout
from strategies.commands import BoundCommands, Commands
from strategies.pieces import piece_cuts
from strategies.senses import BoundSenses, Candidates, Senses, signals_used
from strategies.strategy_memory import StrategyMemory

Array = NDArray[np.float64]
BLOCK: Final = 2040  # ticks x cases of a piece: its board stays in the second cache, its rows on lines of their own

_ARRAYS: Final = ("rows", "before", "after", "decided", "raised")


@dataclass(frozen=True)
class Piece:
    """Some ticks of a chunk between which no case changes drive mode, as the senses left them."""

    begin: int
    end: int
    key: bytes
    now: BoardChunk
    lost: Array


@dataclass(frozen=True)
class SensedChunk:
    """A chunk between its two stages, with the memory of the senses before it."""

    ticks: int
    pieces: tuple[Piece, ...]
    before: dict[str, Any] = field(default_factory=dict)


class Strategy:
    """A controller made of calibrations that share one structure, one candidate per case.

    Parameters
    ----------
    calibrations : sequence of Calibration
        Candidates; all of one structure.
    candidate_of_case : sequence of int
        Which candidate each case runs.
    plug_ins : PlugIns
        Where the classes come from.
    dt : float
        Step between ticks. [s]
    """

    def __init__(self, calibrations: Sequence[Calibration], candidate_of_case: Sequence[int], plug_ins: PlugIns, dt: float) -> None:
        first = calibrations[0]
        for other in calibrations[1:]:
            if other.structure != first.structure:
                raise BadInput(other.file, f"has other layers or suppliers than {first.file}; such candidates need a batch of their own")
            if other.batch != first.batch:
                raise BadInput(other.file, f"has other damper maps than {first.file}; such candidates need a batch of their own")
        self.calibrations = tuple(calibrations)
        self.candidate_of_case = tuple(candidate_of_case)
        self.dt = dt
        self.cases = len(self.candidate_of_case)
        self.modes = first.modes
        self.plans: tuple[LayerPlan, ...] = first.layers
        self.layers = tuple(plan.name for plan in first.layers)
        suppliers = tuple(plug_ins.by_name[name] for name in first.suppliers)
        laws = tuple(tuple(plug_ins.by_name[law] for law in plan.laws) for plan in first.layers)
        self.states = tuple(given.name for found in suppliers for given in found.gives if given.is_state)
        self.used = signals_used(first, plug_ins)
        self.layout = BoardLayout(suppliers, tuple(zip(self.plans, laws, strict=True)))
        self._candidates = Candidates(calibrations, candidate_of_case, dt)
        self._senses = Senses(self._candidates, suppliers, self.layout)
        self._commands = Commands(self._candidates, suppliers, laws, self.layout)
        self.needs, self.required = self._commands.needs, self._commands.required
        self._bound_senses: dict[bytes, BoundSenses] = {}
        self._bound_commands: dict[bytes, BoundCommands] = {}

    def start(self) -> StrategyMemory:
        """Fresh memory for all cases."""
        return StrategyMemory(self.dt)

    def run(self, sensed: Array, mode: NDArray[np.int16], memory: StrategyMemory, *, record: bool = False) -> PackedOutput:
        """Advance `memory` over a chunk.

        sensed : (row, time, case) array
            Rows by `CONTROLLER_LAYOUT`. [SI]
        mode : (1, time, case) int16 array
            Drive-mode index.
        record : bool
            Whether to note what each layer asked for.
        """
        ticks = sensed.shape[1]
        board = self.layout.empty(min(ticks, self._longest) * self.cases)
        return self._commanded(self._sensed(sensed, mode, memory, lambda: board), ticks, memory, record=record)

    def sense(self, sensed: Array, mode: NDArray[np.int16], memory: StrategyMemory) -> SensedChunk:
        """First stage of `run`: intake, estimators and detectors. It may run a chunk ahead of `command`, in a thread of its own."""
        before = memory.snapshot(self._senses.names)
        width = min(sensed.shape[1], self._longest) * self.cases
        return SensedChunk(sensed.shape[1], tuple(self._sensed(sensed, mode, memory, lambda: self.layout.empty(width))), before)

    def command(self, chunk: SensedChunk, memory: StrategyMemory) -> tuple[PackedOutput, dict[str, Any]]:
        """Second stage of `run`: laws, layers and supervisor; also the whole memory as it was before the chunk."""
        before = memory.snapshot(self._commands.names)
        return self._commanded(chunk.pieces, chunk.ticks, memory, record=False), chunk.before | before

    @property
    def _longest(self) -> int:
        return max(BLOCK // self.cases, 1)

    def _sensed(self, sensed: Array, mode: NDArray[np.int16], memory: StrategyMemory, board: Callable[[], Array]) -> Iterator[Piece]:
        """Pieces in order, each on a board of its own or on the same one, to be commanded before the next."""
        ends = (0, 1) if sensed.shape[1] == 1 else piece_cuts(mode, self._longest)
        for begin, end in pairwise(ends):
            key = mode[0, begin].tobytes()
            bound = self._bound_senses.get(key)
            if bound is None:
                bound = self._bound_senses[key] = self._senses.bind(key)
            piece = sensed if len(ends) == 2 else np.ascontiguousarray(sensed[:, begin:end])
            yield Piece(begin, end, key, *self._senses.advance(bound, piece, board(), memory))

    def _commanded(self, pieces: Iterable[Piece], ticks: int, memory: StrategyMemory, *, record: bool) -> PackedOutput:
        """Duties of all pieces, as one output."""
        whole: PackedOutput | None = None
        for piece in pieces:
            bound = self._bound_commands.get(piece.key)
            if bound is None:
                bound = self._bound_commands[piece.key] = self._commands.bind(piece.key)
            output = self._commands.advance(bound, piece.now, piece.lost, memory, record=record)
            if piece.end - piece.begin == ticks:
                return output
            whole = room_for(output, ticks) if whole is None else whole
            put_in(whole, output, slice(piece.begin, piece.end))
        if whole is None:
            raise ValueError("expected at least one tick")
        return whole


def room_for(output: PackedOutput, ticks: int) -> PackedOutput:
    """An output of so many ticks to put pieces in, alike in all else."""

    def empty(array: NDArray[Any]) -> Any:
        return np.empty((*array.shape[:-2], ticks, array.shape[-1]), array.dtype)

    record = output.record
    kept = None if record is None else Record(*(empty(part) for part in (record.asked, record.share, record.after, record.lost)))
    arrays: dict[str, Any] = {name: empty(getattr(output, name)) for name in _ARRAYS}
    return replace(output, **arrays, record=kept)


def put_in(whole: PackedOutput, output: PackedOutput, at: slice) -> None:
    """Put the ticks of a piece where they belong."""
    for name in _ARRAYS:
        getattr(whole, name)[:, at] = getattr(output, name)
    if whole.record is not None and output.record is not None:
        for name in ("asked", "share", "after", "lost"):
            getattr(whole.record, name)[..., at, :] = getattr(output.record, name)
