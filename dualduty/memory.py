"""Explicit memory: a tree of named children, each owned by exactly one block.

State is float arrays that are replaced, never changed in place, so a snapshot is a set of references. What can be
derived from parameters is kept apart, per binding, and is never part of a snapshot.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dualduty.lookup import full

Array = NDArray[np.float64]
Snapshot = dict[str, Array]


class MemoryMisuse(RuntimeError):  # noqa: N818 - reads as what it is
    """A plug-in opened a name twice, skipped a block, or opened a new one after its first call."""


class _Shared:
    """What all nodes of one tree know: the step, the binding, the running call, and whether names are fixed."""

    __slots__ = ("binding", "call", "dt", "nodes", "sealed")

    def __init__(self, dt: float) -> None:
        self.dt = dt
        self.binding: Any = 0
        self.call = 0
        self.sealed = False
        self.nodes: list[Memory] = []


class Memory:
    """One node: `memory("name")` opens a child; a block keeps its state in its own node."""

    __slots__ = ("_children", "_derived", "_last_call", "_path", "_shared", "state")

    def __init__(self, dt: float, *, _shared: _Shared | None = None, _path: str = "") -> None:
        self._shared = _shared if _shared is not None else _Shared(dt)
        self._children: dict[str, Memory] = {}
        self._derived: dict[Any, Any] = {}
        self._last_call = 0
        self._path = _path
        self.state: Array | None = None

    @property
    def dt(self) -> float:
        """Step between ticks. [s]"""
        return self._shared.dt

    def __call__(self, name: str) -> Memory:
        """Open the child `name`; once per call, and the same names at every call."""
        shared = self._shared
        child = self._children.get(name)
        if child is None:
            child = self._add(name)
        elif child._last_call == shared.call:
            raise MemoryMisuse(f"memory {child._path!r} is opened twice in one call; give each block its own name")
        child._last_call = shared.call
        return child

    def _add(self, name: str) -> Memory:
        if self._shared.sealed:
            raise MemoryMisuse(f"memory {self._path + name!r} was not opened in the first call; blocks are never skipped")
        if "/" in name:
            raise MemoryMisuse(f"memory {name!r}: a name holds no slash; open a child of its own")
        child = Memory(0.0, _shared=self._shared, _path=f"{self._path}{name}/")
        self._children[name] = child
        self._shared.nodes.append(child)
        return child

    def begin(self, binding: Any = 0) -> None:
        """Start a call with parameters bound as `binding`; the framework does this."""
        self._shared.call += 1
        self._shared.binding = binding

    def end(self) -> None:
        """End a call: every child known must have been opened."""
        call = self._shared.call
        for node in self._shared.nodes:
            if node._last_call != call:
                raise MemoryMisuse(f"memory {node._path!r} was not opened in this call; blocks are never skipped")
        self._shared.sealed = True

    def derived(self, make: Callable[[], Any]) -> Any:
        """What `make()` gives, computed once per binding: coefficients, tables."""
        found = self._derived.get(self._shared.binding)
        if found is None:
            found = make()
            self._derived[self._shared.binding] = found
        return found

    def advance(
        self, kernel: Callable[..., None], inputs: tuple[Array, ...], coefficients: Callable[[], tuple[Any, ...]], slots: int
    ) -> Array:
        """Run a block's kernel over a chunk and keep its new state.

        inputs : (corner, time, case) arrays
            Broadcast against each other and the coefficients.
        coefficients : function that returns floats or arrays broadcastable to (corner, 1, case)
            Evaluated once per binding.
        slots : int
            State values per corner and case; zero before the first sample, slot 0 says "started" by convention.
        """
        found = self._derived.get(self._shared.binding)
        if found is None:
            found = self._derived[self._shared.binding] = coefficient_tables(coefficients(), inputs)
        table, corners, cases = found
        shape = (corners, inputs[0].shape[1], cases)
        state = np.zeros((slots, corners, cases)) if self.state is None else self.state.copy()
        out = np.empty(shape)
        try:
            if len(inputs) == 1:  # the common case at its leanest: this line runs for every block at every tick
                x = inputs[0]
                kernel(x if x.shape == shape else full(x, shape), table, state, out)
            else:
                kernel(*[x if x.shape == shape else full(x, shape) for x in inputs], table, state, out)
        except TypeError:  # a view or another number type: kernels take C-order float64 only
            kernel(*(full(x, shape) for x in inputs), table, state, out)
        self.state = state
        return out

    def snapshot(self) -> Snapshot:
        """All states by path, by reference (they are never changed in place)."""
        return {node._path: node.state for node in self._shared.nodes if node.state is not None}

    def restore(self, snapshot: Snapshot) -> None:
        """Take up states saved by `snapshot`; children are made as they are named."""
        wanted = dict(snapshot)
        for node in self._shared.nodes:
            node.state = wanted.pop(node._path, None)
        for path, state in wanted.items():
            self._at(path).state = state

    def _at(self, path: str) -> Memory:
        node = self
        for name in path.strip("/").split("/"):
            child = node._children.get(name)
            node = child if child is not None else node._add(name)
        return node


def coefficient_tables(coefficients: tuple[Any, ...], inputs: tuple[Array, ...]) -> tuple[Array, int, int]:
    """Coefficients stacked to (coefficient, corner, case) at the shape the inputs and they need together."""
    arrays = [np.asarray(c, float) for c in coefficients]
    shaped = [a if a.ndim == 3 else a.reshape(1, 1, 1) for a in arrays]  # noqa: PLR2004 - (corner, time, case)
    corners = max(a.shape[0] for a in (*shaped, *inputs))
    cases = max(a.shape[2] for a in (*shaped, *inputs))
    table = np.empty((len(shaped), corners, cases))
    for index, a in enumerate(shaped):
        table[index] = a[:, 0, :]
    return table, corners, cases
