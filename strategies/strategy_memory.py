"""What the parts of a strategy remember between ticks."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dualduty.memory import Memory, Snapshot

Array = NDArray[np.float64]


class StrategyMemory:
    """What the parts of a strategy remember: a row of numbers per case, or a tree for parts in array form.

    It can be saved, copied and resumed.
    """

    def __init__(self, dt: float) -> None:
        self.dt = dt
        self.rows: dict[str, Array] = {}
        self.trees: dict[str, Memory] = {}

    def open(self, name: str, binding: Any) -> Memory:
        """The tree of one part, with a call begun."""
        tree = self.trees.get(name)
        if tree is None:
            tree = self.trees[name] = Memory(self.dt)
        tree.begin(binding)
        return tree

    def numbers(self, name: str, cases: int, count: int) -> Array:
        """The numbers of one part, (case, count), to be advanced in place; zero at first."""
        found = self.rows.get(name)
        if found is None:
            found = self.rows[name] = np.zeros((cases, count))
        return found

    def snapshot(self, names: Collection[str] | None = None) -> dict[str, Snapshot]:
        """All states, or those of some parts: numbers copied, trees by reference, since theirs are never changed in place."""
        known = (*self.rows, *self.trees) if names is None else names
        rows = {f"rows/{name}": {"": self.rows[name].copy()} for name in known if name in self.rows}
        return rows | {name: self.trees[name].snapshot() for name in known if name in self.trees}

    def restore(self, snapshot: dict[str, Snapshot]) -> None:
        """Go on from a snapshot."""
        self.rows, self.trees = {}, {}
        for name, states in snapshot.items():
            if name.startswith("rows/"):
                self.rows[name.removeprefix("rows/")] = states[""].copy()
            else:
                self.trees[name] = Memory(self.dt)
                self.trees[name].restore(states)
