"""A plug-in at its place in a strategy: which rows of the board it reads and fills, in tick form or in array form."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.contract import Duty, Force, State, misfit, wrong_shape
from dualduty.discovery import Found, raised
from dualduty.each_tick import STRENGTH, TickPlan, plan_of
from dualduty.errors import BadInput
from dualduty.lookup import full
from dualduty.memory import Memory, MemoryMisuse
from dualduty.signals import SIDES
from strategies.board import BoardChunk, BoardLayout
from strategies.strategy_memory import StrategyMemory

Array = NDArray[np.float64]
_FLOAT: Final = np.dtype(np.float64)
_NONE: Final = np.zeros(0, np.int64)


@dataclass(frozen=True)
class Part:
    """A supplier, or a law in its layer; `demand` begins the names of a law's rows and is empty for a supplier."""

    name: str
    found: Found
    plan: TickPlan | None
    demand: str
    read: NDArray[np.int64]
    write: NDArray[np.int64]

    @classmethod
    def at(cls, found: Found, layout: BoardLayout, layer: str = "") -> Part:
        """The plug-in on a board; `layer` is where a law stands."""
        demand = f"{layer}.{found.name}." if layer else ""
        plan = plan_of(found.cls)
        rows = layout.of_plan(plan, demand) if plan else (_NONE, _NONE)
        return cls(f"layers.{layer}.{found.name}" if layer else found.name, found, plan, demand, *rows)

    @property
    def where(self) -> str:
        """File and class, for a message."""
        return f"{self.found.source}: {self.found.name}"

    def advance(self, values: Any, now: BoardChunk, memory: StrategyMemory, binding: bytes) -> None:
        """Run over the chunk: `values` are its packed parameters, or the bound plug-in itself in array form."""
        if self.plan is not None:
            self.plan.loop(now.board, self.read, values, memory.numbers(self.name, now.shape[1], self.plan.states), self.write, *now.shape)
            return
        result = self._called(values, now, memory.open(self.name, binding))
        if self.demand:
            self._put_demand(result, now)
        else:
            self._put_given(result, now)

    def _called(self, plug_in: Any, now: BoardChunk, tree: Memory) -> Any:
        try:
            result = plug_in.run(now, tree)
            tree.end()
        except BadInput:
            raise
        except MemoryMisuse as error:
            raise BadInput(self.where, str(error)) from error
        except Exception as error:
            raise BadInput(self.where, raised(error, self.found.source)) from error
        return result

    def _put_given(self, result: Any, now: BoardChunk) -> None:
        gives = self.found.gives
        if not isinstance(result, dict) or len(result) != len(gives):
            raise BadInput(self.where, misfit(gives, result, *now.shape))
        for given in gives:
            value = result.get(given.name)
            if value is None or (given.is_state and not isinstance(value, State)):
                raise BadInput(self.where, misfit(gives, result, *now.shape))
            if given.is_state:
                self._put(given.name, value.active, (given.corners,), now)
                self._put(given.name + STRENGTH, value.active if value.strength is None else value.strength, (given.corners,), now)
            else:
                self._put(given.name, value, (given.corners,), now)

    def _put_demand(self, demand: Any, now: BoardChunk) -> None:
        if not isinstance(demand, Duty | Force):
            raise BadInput(self.where, f"run returned {type(demand).__name__}; a law returns Duty or Force")
        for side in SIDES:
            wanted = getattr(demand, side)
            if (wanted is not None) != (side in self.found.sides):
                said = "leaves out" if wanted is None else "asks for"
                raise BadInput(self.where, f"{said} the {side} side here; at rest, it asked for {' and '.join(self.found.sides)}")
            if wanted is not None:
                self._put(self.demand + side, wanted, (1, 4), now)

    def _put(self, name: str, array: Any, corners: tuple[int, ...], now: BoardChunk) -> None:
        """An array of a plug-in, checked, onto its rows."""
        got: tuple[int, ...] = getattr(array, "shape", ())
        if not got or got[1:] != now.shape or got[0] not in corners or array.dtype != _FLOAT:
            raise BadInput(self.where, wrong_shape(name.rsplit(".", 1)[-1].replace(STRENGTH, " strength"), array, corners, *now.shape))
        row, count = now.layout.rows[name]
        now.board[row : row + count, : now.shape[0] * now.shape[1]] = full(array, (count, *now.shape)).reshape(count, -1)

    def not_a_number(self, now: BoardChunk) -> str:
        """Which of its rows isn't a number, and where; empty when all are."""
        for name in [given.name for given in self.found.gives] or [self.demand + side for side in self.found.sides]:
            row, corners = now.layout.rows[name]
            values = now.board[row : row + corners, : now.shape[0] * now.shape[1]].reshape(corners, *now.shape)
            if not np.isfinite(values).all():
                corner, tick, case = (int(index) for index in np.argwhere(~np.isfinite(values))[0])
                said = name.rsplit(".", 1)[-1] + (f" {self.found.returns.lower()}" if self.demand else "")
                return f"{said} is not a number (corner {corner}, tick {tick} of the chunk, case {case})"
        return ""


def first_not_a_number(parts: Iterable[Part], now: BoardChunk) -> BadInput:
    """Names the first plug-in, in running order, of which something is not a number."""
    for part in parts:
        if problem := part.not_a_number(now):
            return BadInput(part.where, problem)
    return BadInput("strategy", "the duty of the layers together is not a number")
