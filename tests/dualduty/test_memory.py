"""The memory tree: names once per call and the same at every call; snapshots that nothing changes."""

from __future__ import annotations

import numpy as np
import pytest

from dualduty.blocks import low_pass
from dualduty.memory import Memory, MemoryMisuse

STEP = np.ones((1, 1, 1))


def _call(memory: Memory, *names: str) -> None:
    memory.begin()
    for name in names:
        node = memory
        for part in name.split("."):
            node = node(part)
    memory.end()


def test_a_name_opened_twice_is_refused() -> None:
    with pytest.raises(MemoryMisuse, match="memory 'speed/' is opened twice in one call"):
        _call(Memory(0.01), "speed", "speed")


def test_the_same_name_below_different_parents_is_fine() -> None:
    memory = Memory(0.01)
    for _ in range(3):
        memory.begin()
        for side in ("compression", "rebound"):
            memory(side)("slew")
        memory.end()


@pytest.mark.parametrize(
    ("first", "then", "said"),
    [(("a", "b"), ("a",), "'b/' was not opened"), (("a",), ("a", "b"), "'b' was not opened in the first call")],
)
def test_another_set_of_names_than_last_call_is_refused(first: tuple[str, ...], then: tuple[str, ...], said: str) -> None:
    memory = Memory(0.01)
    _call(memory, *first)
    with pytest.raises(MemoryMisuse, match=said):
        _call(memory, *then)


def test_a_slash_in_a_name_is_refused() -> None:
    """It separates a child from its parent in a snapshot."""
    with pytest.raises(MemoryMisuse, match="'a/b'"):
        _call(Memory(0.01), "a/b")


def test_what_derives_from_parameters_is_made_once_per_binding() -> None:
    memory = Memory(0.01)
    made = [iter(range(100)), iter(range(100, 200))]
    found = []
    for binding in (0, 1, 0, 1, 0):
        memory.begin(binding)
        found.append(memory("node").derived(made[binding].__next__))
        memory.end()
    assert found == [0, 100, 0, 100, 0]


def test_state_goes_on_when_the_binding_changes() -> None:
    memory = Memory(0.01)
    out = []
    for hz, value in ((1.0, 0.0), (1.0, 1.0), (20.0, 1.0)):
        memory.begin(hz)
        out.append(low_pass(value * STEP, hz, memory("smooth"))[0, 0, 0])
        memory.end()
    first = 1 - np.exp(-2 * np.pi * 0.01)
    assert out == pytest.approx([0.0, first, first + (1 - np.exp(-2 * np.pi * 0.2)) * (1 - first)], rel=1e-12)  # rounding


def test_restore_forgets_what_the_snapshot_does_not_know() -> None:
    memory = Memory(0.01)
    before = memory.snapshot()
    memory.begin()
    low_pass(STEP, 1.0, memory("smooth"))
    memory.end()
    assert list(memory.snapshot()) == ["smooth/"]
    memory.restore(before)
    assert memory.snapshot() == {}


def test_a_snapshot_of_another_plug_in_is_noticed() -> None:
    memory = Memory(0.01)
    memory.restore({"other/": np.zeros((1, 1, 1))})
    memory.begin()
    memory("smooth")
    with pytest.raises(MemoryMisuse, match="'other/' was not opened"):
        memory.end()
