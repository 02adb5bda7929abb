"""What a strategy commands from what it senses: laws, the stack of layers, the supervisor."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.calibration.bind import bind
from dualduty.calibration.model import Calibration, LayerPlan
from dualduty.calibration.supply import REFERENCE_SPEEDS
from dualduty.controller import PackedOutput, Record
from dualduty.discovery import Found
from dualduty.signals import SIDES, SIGNALS
from strategies.board import BoardChunk, BoardLayout
from strategies.dependence import corner_of_rows, layer_needs, need_rows
from strategies.layer import LayerSettings, layer_record, values_of_layers
from strategies.part import Part, first_not_a_number
from strategies.senses import BoundPart, Candidates
from strategies.stack import LAYER, STATE, stack_kernel
from strategies.strategy_memory import StrategyMemory
from strategies.supervisor import Supervisor

Array = NDArray[np.float64]
AMBIENT: Final = 20.0  # degrees Celsius, where nothing estimates the dampers' temperature
_SAME_LINES: Final = 64  # numbers: rows that many apart, or a multiple, compete for the same lines of the cache
_NOTHING: Final = np.zeros((0, 0))
_WARMTH: Final = "damper_temperature"


@dataclass(frozen=True)
class BoundCommands:
    """Laws, layers and supervisor with their parameters for one row of drive modes."""

    key: bytes
    modes: Array
    laws: tuple[BoundPart, ...]
    layers: Array
    fallback: Array
    supervisor: Supervisor


class Commands:
    """Runs laws, layers and supervisor of some candidates over a board that their senses have filled."""

    def __init__(
        self, candidates: Candidates, suppliers: tuple[Found, ...], laws: tuple[tuple[Found, ...], ...], layout: BoardLayout
    ) -> None:
        first = candidates.calibrations[0]
        self.candidates = candidates
        self.layout = layout
        self.plans: tuple[LayerPlan, ...] = first.layers
        self._suppliers = tuple(Part.at(found, layout) for found in suppliers)
        self._laws = tuple(Part.at(law, layout, plan.name) for plan, each in zip(self.plans, laws, strict=True) for law in each)
        self.names = ("layers", "supervisor", *(part.name for part in self._laws))  # of the parts that remember
        self._set_stack(first, suppliers, laws)

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

    def bind(self, key: bytes) -> BoundCommands:
        """All of it for one row of drive modes, by their bytes."""
        modes = self.candidates.mode_row(key)
        rows, each = (self.candidates.of_case, modes), self.candidates.calibrations
        settings = [
            bind(LayerSettings, [c.layers[index].settings for c in each], *rows).values(self.candidates.dt)
            for index in range(len(self.plans))
        ]
        places = [(index, law) for index, plan in enumerate(self.plans) for law in plan.laws]
        laws = tuple(
            self.candidates.packed(part, bind(part.found.cls, [c.layers[index].law_settings[law] for c in each], *rows))
            for part, (index, law) in zip(self._laws, places, strict=True)
        )
        supervisor = bind(Supervisor, [c.settings["supervisor"] for c in each], *rows)
        return BoundCommands(key, np.array(modes, float), laws, values_of_layers(settings), supervisor.fallback(), supervisor)

    def advance(self, bound: BoundCommands, now: BoardChunk, lost: Array, memory: StrategyMemory, *, record: bool) -> PackedOutput:
        """Duties of a board; what the board has is in the output by reference. `lost` is (row, tick x case)."""
        shape: tuple[int, int] = now.shape
        width = shape[0] * shape[1]
        for part, values in bound.laws:
            part.advance(values, now, memory, bound.key)
        columns = width if width % _SAME_LINES else width + 8
        asked, closed = np.empty((8, columns)), np.empty((8, columns))
        decided, raised_flags = np.empty((8, columns), np.int16), np.empty((8, columns), np.uint8)
        noted = np.full((3, len(self.plans) if record else 0, 8, columns), np.nan)
        stack_kernel(
            self._records, now.board, bound.layers, memory.numbers("layers", shape[1], STATE * len(self.plans)), self._maps, self._places,
            bound.fallback, lost if lost.any() else _NOTHING, self._needs, self._corner_of_rows,
            asked, closed, decided, raised_flags, *noted, *shape,
        )  # fmt: skip
        before = asked[:, :width].reshape(8, *shape)
        if not np.isfinite(before).all():
            raise first_not_a_number((*self._suppliers, *self._laws), now)
        tree = memory.open("supervisor", bound.key)
        after, flags = bound.supervisor.run(before, self._warmth(now.board, shape), bound.modes, closed[:, :width].reshape(8, *shape), tree)
        tree.end()
        flags |= raised_flags[:, :width].reshape(8, *shape)
        published = now.board[self.layout.published, :width].reshape(-1, *shape)
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
