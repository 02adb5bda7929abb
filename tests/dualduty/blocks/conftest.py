"""Running a block over chunks as the framework does."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise

import numpy as np
import pytest
from numpy.typing import NDArray

from dualduty.memory import Memory

Array = NDArray[np.float64]
Block = Callable[[tuple[Array, ...], Memory], Array]
Runner = Callable[..., Array]


def run_block(block: Block, inputs: tuple[Array, ...], cuts: Sequence[int] = (), memory: Memory | None = None, dt: float = 0.01) -> Array:
    """Outputs of `block(inputs, memory)` over the chunks between `cuts`, joined."""
    tree = memory if memory is not None else Memory(dt)
    parts = []
    for a, b in pairwise(cuts or (0, inputs[0].shape[1])):
        tree.begin()
        parts.append(block(tuple(np.ascontiguousarray(x[:, a:b]) for x in inputs), tree))
        tree.end()
    return np.concatenate(parts, axis=1)


@pytest.fixture(scope="session")
def run() -> Runner:
    """`run(block, inputs, cuts=(), memory=None, dt=0.01)`: see `run_block`."""
    return run_block
