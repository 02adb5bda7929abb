"""A share of the cases of a sweep: one compiled loop per plug-in, and every change of the wanted state."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Final

import numpy as np
from numba import types
from numpy.typing import NDArray

from dualduty.discovery import Found
from dualduty.each_tick import TickPlan, base_name, plan_of
from dualduty.errors import BadInput
from dualduty.kernels import I8, OUT2, OUT3, kernel
from strategies.board import BoardLayout

Array = NDArray[np.float64]
Ticks = NDArray[np.int64]
Edges = tuple[Ticks, ...]  # of one case, by row of the state
Rows = dict[str, tuple[int, int]]  # first row and number of corners by name

BLOCK: Final = 32_768  # ticks x cases that go through all plug-ins before the next: their rows stay in the second cache
LEAST_TICKS: Final = 64
_FOUND: Final = types.Array(types.int64, 2, "C")


@dataclass(frozen=True)
class SweptPart:
    """A plug-in that runs once per case.

    `read` are rows of the shared board in the order of its inputs; at `own_at` each case reads its `own_rows` instead.
    Results at `kept_at` go to `kept_rows` of the cases' board.
    """

    found: Found
    plan: TickPlan
    read: Ticks
    own_at: Ticks
    own_rows: Ticks
    kept_at: Ticks
    kept_rows: Ticks


def swept_parts(below: Sequence[Found], layout: BoardLayout, state: str) -> tuple[SweptPart, ...]:
    """Parts in running order; the wanted state has the first rows of the cases' board."""
    for found in below:
        if plan_of(found.cls) is None:
            raise BadInput(f"{found.source}: {found.name}", "is in array form; a sweep runs what has tick(self, now, memory, out)")
    plans: list[Any] = [plan_of(found.cls) for found in below]
    given = {entry.name for found in below for entry in found.gives}
    written = {name for plan in plans for name in plan.outs}
    own: Rows = {}
    kept: Rows = {}
    for name in (state, *(name for plan in plans for name in plan.reads if base_name(name) in given)):
        stands = name if name in written else base_name(name)  # a state without a strength of its own is as strong as it is active
        kept.setdefault(stands, (sum(count for _, count in kept.values()), layout.rows[stands][1]))
        own[name] = kept[stands]
    return tuple(_part(found, layout, own, kept) for found in below)


def _part(found: Found, layout: BoardLayout, own: Rows, kept: Rows) -> SweptPart:
    plan: Any = plan_of(found.cls)
    inputs = [(name, corner) for name, corners in plan.reads.items() for corner in range(corners)]
    outputs = [(name, corner) for name, corners in plan.outs.items() for corner in range(corners)]
    return SweptPart(
        found, plan,
        read=_ints(layout.rows[name][0] + corner for name, corner in inputs),
        own_at=_ints(at for at, (name, _) in enumerate(inputs) if name in own),
        own_rows=_ints(own[name][0] + corner for name, corner in inputs if name in own),
        kept_at=_ints(at for at, (name, _) in enumerate(outputs) if name in kept),
        kept_rows=_ints(kept[name][0] + corner for name, corner in outputs if name in kept),
    )  # fmt: skip


def _ints(numbers: Iterable[int]) -> Ticks:
    return np.array(list(numbers), np.int64)


@kernel(OUT3, I8, I8, I8, OUT2, _FOUND, types.Array(types.int64, 1, "C"))
def _edges_kernel(board: Any, rows: int, ticks: int, first: int, last: Any, found: Any, count: Any) -> None:  # noqa: PLR0913
    """Note every change of the first `rows` rows of the board: row, case, tick."""
    many = 0
    for row in range(rows):
        for case in range(board.shape[1]):
            before = last[row, case]
            for tick in range(ticks):
                now = 1.0 if board[row, case, tick] > 0.0 else 0.0
                if now != before:
                    found[many, 0], found[many, 1], found[many, 2] = row, case, first + tick
                    many += 1
                    before = now
            last[row, case] = before
    count[0] = many


class SweptCases:
    """Cases `cut` of a sweep with their memory, for a state of `rows` rows; several may advance beside each other in threads."""

    def __init__(self, parts: Sequence[SweptPart], rows: int, cut: slice) -> None:
        self.parts, self.rows, self.cut = parts, rows, cut
        self.count = cut.stop - cut.start
        self.memory = [np.zeros((self.count, part.plan.states)) for part in parts]
        self.longest = max(BLOCK // self.count, LEAST_TICKS)
        self.board = np.zeros((1 + max(int(row) for part in parts for row in part.kept_rows), self.count, self.longest))
        self.last = np.zeros((self.rows, self.count))
        self.found: list[Ticks] = []

    def advance(self, packed: Sequence[Array], values: Sequence[Array], first: int) -> None:
        """Run over some ticks; `packed` is what all cases read, (tick, input) by part, `first` the number of the first tick."""
        mine = [value if len(value) == 1 else value[self.cut] for value in values]
        ticks = len(packed[0])
        room, count = np.empty((self.rows * self.count * min(ticks, self.longest), 3), np.int64), np.zeros(1, np.int64)
        for begin in range(0, ticks, self.longest):
            end = min(begin + self.longest, ticks)
            for part, inputs, value, memory in zip(self.parts, packed, mine, self.memory, strict=True):
                part.plan.swept_loop(
                    inputs[begin:end], self.board, part.own_at, part.own_rows, value, memory, part.kept_at, part.kept_rows
                )  # fmt: skip
            _edges_kernel(self.board, self.rows, end - begin, first + begin, self.last, room, count)
            if count[0]:
                self.found.append(room[: count[0]].copy())

    def stretches(self, ticks: int) -> list[Edges]:
        """Stretches in which the state was active, by case and row; one that is still open ends at `ticks`."""
        found = np.concatenate([*self.found, np.zeros((0, 3), np.int64)])
        place = found[:, 1] * self.rows + found[:, 0]
        order = np.argsort(place, kind="stable")
        cuts = np.searchsorted(place[order], np.arange(self.count * self.rows + 1))
        changes = [found[order[a:b], 2] for a, b in pairwise(cuts)]
        closed = [np.append(each, ticks) if len(each) % 2 else each for each in changes]
        return [tuple(each.reshape(-1, 2) for each in closed[case * self.rows : (case + 1) * self.rows]) for case in range(self.count)]
