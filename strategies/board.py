"""The board: one row per number that a strategy works with, over (tick, case); plug-ins read and write rows of it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.calibration.model import LayerPlan
from dualduty.contract import Chunk, State
from dualduty.controller import OutputLayout
from dualduty.discovery import Found
from dualduty.each_tick import STRENGTH, TickPlan, plan_of
from dualduty.signals import CONTROLLER_LAYOUT

Array = NDArray[np.float64]

_SIGNAL_ROWS: Final = CONTROLLER_LAYOUT.size
_LINE: Final = 8  # numbers in a line of the processor's cache
CLEAN: Final = slice(0, _SIGNAL_ROWS)
FAULT: Final = slice(_SIGNAL_ROWS, 2 * _SIGNAL_ROWS)
VALID: Final = slice(2 * _SIGNAL_ROWS, 3 * _SIGNAL_ROWS)


class BoardLayout:
    """Where everything stands: signals cleaned, their faults, whether they are believed; what suppliers give; demands.

    `rows` maps a name to its first row and number of corners; rows from `VALID` to `given_end` are published.
    """

    def __init__(self, suppliers: tuple[Found, ...], layers: tuple[tuple[LayerPlan, tuple[Found, ...]], ...]) -> None:
        self.rows: dict[str, tuple[int, int]] = {}
        for block, ending in ((CLEAN, ""), (FAULT, "_fault"), (VALID, "_valid")):
            for name, place in CONTROLLER_LAYOUT.rows.items():
                self.rows[name + ending] = (block.start + place.start, place.stop - place.start)
        self.size = VALID.stop
        given = [entry for found in suppliers for entry in found.gives]
        quantities = self._place({entry.name: entry.corners for entry in given if not entry.is_state})
        states = self._place({entry.name: entry.corners for entry in given if entry.is_state})
        own = {
            entry.name: entry.corners for found in suppliers for entry in found.gives if entry.is_state and _has_strength(found, entry.name)
        }
        self._place({name + STRENGTH: corners for name, corners in own.items()})
        self.rows |= {name + STRENGTH: self.rows[name] for name in states if name not in own}  # as strong as it is active
        strengths = [name + STRENGTH for name in states]
        self.published = slice(VALID.start, self.size)
        self.output = OutputLayout(
            dict(CONTROLLER_LAYOUT.rows),
            self._within(quantities, ""), self._within(states, ""), self._within(strengths, STRENGTH),
        )  # fmt: skip
        self.demands = self.size
        self._place({f"{plan.name}.{law.name}.{side}": 4 for plan, laws in layers for law in laws for side in law.sides})

    def _place(self, sizes: Mapping[str, int]) -> list[str]:
        for name, corners in sizes.items():
            self.rows[name] = (self.size, corners)
            self.size += corners
        return list(sizes)

    def _within(self, names: list[str], ending: str) -> dict[str, slice]:
        """Where names stand within the published rows."""
        places = {name: self.rows[name] for name in names}
        begin = VALID.start
        return {name.removesuffix(ending): slice(row - begin, row + corners - begin) for name, (row, corners) in places.items()}

    def empty(self, width: int) -> Array:
        """A board, (row, tick x case); rows are spread so that they don't compete for the same lines of the cache."""
        lines = -(-width // _LINE)
        return np.empty((self.size, _LINE * (lines | 1)))

    def of_plan(self, plan: TickPlan, demand: str = "") -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Rows that a plug-in in tick form reads and writes; `demand` is the place of a law, `layer.law.`."""
        read = [self.rows[name][0] + corner for name, corners in plan.reads.items() for corner in range(corners)]
        write = [self.rows[demand + name][0] + corner for name, corners in plan.outs.items() for corner in range(corners)]
        return np.array(read, np.int64), np.array(write, np.int64)


def _has_strength(found: Found, name: str) -> bool:
    """Whether a state has a strength of its own; in array form that is seen only at each call."""
    plan = plan_of(found.cls)
    return plan is None or name + STRENGTH in plan.outs


class BoardChunk(Chunk):
    """The signals, quantities and states of a board as arrays, for a plug-in in array form; made when asked for."""

    def __init__(self, dt: float, board: Array, layout: BoardLayout, shape: tuple[int, int]) -> None:
        super().__init__(dt, {"board": board, "layout": layout, "shape": shape})

    def __getattr__(self, name: str) -> Any:
        own = self.__dict__
        rows = own["layout"].rows
        if name not in rows:
            return super().__getattr__(name)
        value: Any = array_of(own["board"], rows[name], own["shape"])
        if name + STRENGTH in rows:
            value = State(value, array_of(own["board"], rows[name + STRENGTH], own["shape"]))
        own[name] = value
        return value


def array_of(board: Array, place: tuple[int, int], shape: tuple[int, int]) -> Array:
    """Rows of a board as a (corner, time, case) array, closed to writing."""
    row, corners = place
    array = np.ascontiguousarray(board[row : row + corners, : shape[0] * shape[1]]).reshape(corners, *shape)
    array.flags.writeable = False
    return array
