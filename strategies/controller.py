"""The whole strategy: intake, estimators and detectors, layers of laws, supervisor.

Every chunk is cut wherever any case changes drive mode, so parameters are constant within each call of a plug-in.
All parts work on one board (`strategies.board`): a plug-in in tick form is one compiled call on its rows, one in array
form gets arrays made of them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.calibration.bind import bind
from dualduty.calibration.model import Calibration, LayerPlan
from dualduty.calibration.supply import REFERENCE_SPEEDS
from dualduty.controller import PackedOutput, Record, joined_packed
from dualduty.discovery import Found, PlugIns
from dualduty.errors import BadInput
from dualduty.signals import SIDES, SIGNALS
from strategies.board import BoardLayout
from strategies.dependence import corner_of_rows, layer_needs, need_rows
from strategies.layer import LayerSettings, layer_record, values_of_layers
from strategies.part import Part, first_not_a_number
from strategies.pieces import piece_cuts
from strategies.senses import BoundPart, BoundSenses, Candidates, Senses, signals_used
from strategies.stack import LAYER, STATE, stack_kernel
from strategies.strategy_memory import StrategyMemory
from strategies.supervisor import Supervisor

Array = NDArray[np.float64]
BLOCK: Final = 2040  # ticks x cases of a piece: its board stays in the second cache, its rows on lines of their own
AMBIENT: Final = 20.0  # degrees Celsius, where nothing estimates the dampers' temperature
_SAME_LINES: Final = 64  # numbers: rows that many apart, or a multiple, compete for the same lines of the cache
_NOTHING: Final = np.zeros((0, 0))
_WARMTH: Final = "damper_temperature"


@dataclass(frozen=True)
class _Bound:
    """All parts with their parameters for one row of drive modes."""

    modes: Array
    senses: BoundSenses
    laws: tuple[BoundPart, ...]
    layers: Array
    fallback: Array
    supervisor: Supervisor


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
        self._laws = tuple(Part.at(law, self.layout, plan.name) for plan, each in zip(self.plans, laws, strict=True) for law in each)
        self._set_stack(first, suppliers, laws)
        self._bindings: dict[bytes, _Bound] = {}

    def _set_stack(self, first: Calibration, suppliers: tuple[Found, ...], laws: tuple[tuple[Found, ...], ...]) -> None:
        """What the compiled pass over the layers needs to know and no value changes."""
        rows = self.layout.rows
        records = [layer_record(plan, each, rows) for plan, each in zip(self.plans, laws, strict=True)]
        self._records = np.array(records, LAYER)
        givers = {given.name: found for found in suppliers for given in found.gives}
        self.needs = tuple(layer_needs(plan, each, givers) for plan, each in zip(self.plans, laws, strict=True))
        self._needs = np.stack([need_rows(needs) for needs in self.needs])
        self.required = tuple(name for name in SIGNALS if any(name in needs for needs in self.needs))
        self._corner_of_rows = corner_of_rows()
        maps = [first.car.damper_map(side, corner) for side in SIDES for corner in (0, 2)]
        starts = np.cumsum([0, *(entry.packed.size for entry in maps)])[:-1]
        references = [rows.get(name, (-1, 0))[0] for name in REFERENCE_SPEEDS]
        self._maps = np.concatenate([entry.packed for entry in maps])
        self._places = np.array([*starts, *references, self.layout.demands], np.int64)

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
        if sensed.shape[1] == 1:
            return self._run_constant(sensed, mode[0, 0], memory, record=record)
        pairs = pairwise(piece_cuts(mode, max(BLOCK // self.cases, 1)))
        return joined_packed(
            [self._run_constant(np.ascontiguousarray(sensed[:, a:b]), mode[0, a], memory, record=record) for a, b in pairs]
        )

    def _run_constant(self, sensed: Array, modes: NDArray[np.int16], memory: StrategyMemory, *, record: bool) -> PackedOutput:
        bound = self._bound(modes)
        shape = (sensed.shape[1], sensed.shape[2])
        width = shape[0] * shape[1]
        board = self.layout.empty(width)
        now, lost = self._senses.advance(bound.senses, sensed, board, memory)
        key = bound.senses.key
        for part, values in bound.laws:
            part.advance(values, now, memory, key)
        columns = width if width % _SAME_LINES else width + 8
        asked, closed = np.empty((8, columns)), np.empty((8, columns))
        decided, raised_flags = np.empty((8, columns), np.int16), np.empty((8, columns), np.uint8)
        noted = np.full((3, len(self.plans) if record else 0, 8, columns), np.nan)
        stack_kernel(
            self._records, board, bound.layers, memory.numbers("layers", self.cases, STATE * len(self.plans)), self._maps, self._places,
            bound.fallback, lost if lost.any() else _NOTHING, self._needs, self._corner_of_rows,
            asked, closed, decided, raised_flags, *noted, *shape,
        )  # fmt: skip
        before = asked[:, :width].reshape(8, *shape)
        if not np.isfinite(before).all():
            raise first_not_a_number((*self._senses.parts, *self._laws), now)
        tree = memory.open("supervisor", key)
        after, flags = bound.supervisor.run(before, self._warmth(board, shape), bound.modes, closed[:, :width].reshape(8, *shape), tree)
        tree.end()
        flags |= raised_flags[:, :width].reshape(8, *shape)
        published = board[self.layout.published, :width].reshape(-1, *shape)
        kept = None
        if record:
            wanted, share, then = (part[..., :width].reshape(len(self.plans), 8, *shape) for part in noted)
            kept = Record(wanted, share, then, lost.reshape(-1, *shape))
        return PackedOutput(self.layout.output, published, before, after, decided[:, :width].reshape(8, *shape), flags, kept)

    def _warmth(self, board: Array, shape: tuple[int, int]) -> Array:
        place = self.layout.rows.get(_WARMTH)
        if place is None:
            return np.full((4, *shape), AMBIENT)
        return board[place[0] : place[0] + 4, : shape[0] * shape[1]].reshape(4, *shape)

    def _bound(self, modes: NDArray[np.int16]) -> _Bound:
        key = modes.tobytes()
        bound = self._bindings.get(key)
        if bound is None:
            bound = self._bindings[key] = self._bind(key)
        return bound

    def _bind(self, key: bytes) -> _Bound:
        senses = self._senses.bind(key)
        modes = self._candidates.mode_row(key)
        rows, each = (self.candidate_of_case, modes), self.calibrations
        settings = [
            bind(LayerSettings, [c.layers[index].settings for c in each], *rows).values(self.dt) for index in range(len(self.plans))
        ]
        places = [(index, law) for index, plan in enumerate(self.plans) for law in plan.laws]
        laws = tuple(
            self._candidates.packed(part, bind(part.found.cls, [c.layers[index].law_settings[law] for c in each], *rows))
            for part, (index, law) in zip(self._laws, places, strict=True)
        )
        supervisor = bind(Supervisor, [c.settings["supervisor"] for c in each], *rows)
        return _Bound(np.array(modes, float), senses, laws, values_of_layers(settings), supervisor.fallback(), supervisor)
