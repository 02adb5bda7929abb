"""Stages beside each other: in order, with errors in their turn, nothing left running; a strategy's bits unchanged."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from dualduty.calibration.read import read_calibration
from dualduty.discovery import discover
from dualduty.pipeline import controlled, in_stages
from dualduty.shipped import shipped_calibrations
from dualduty.signals import CONTROLLER_LAYOUT
from strategies.controller import Strategy
from strategies.strategy_memory import StrategyMemory

Array = NDArray[np.float64]
DT = 0.002


def test_every_item_in_order_through_stages_that_keep_a_state() -> None:
    seen: list[int] = []
    threads = set()

    def running_sum(item: int) -> int:
        threads.add(threading.current_thread().ident)
        seen.append(item)
        return sum(seen)

    assert list(in_stages(range(50), running_sum, lambda total: 2 * total)) == [item * (item + 1) for item in range(50)]
    assert threads.isdisjoint({threading.current_thread().ident})
    assert len(threads) == 1


def test_stages_do_run_beside_each_other() -> None:
    """The first stage waits until the second works on an earlier item: one after the other would never end."""
    meeting = threading.Barrier(2, timeout=20)

    def first(item: int) -> int:
        if item == 1:
            meeting.wait()
        return item

    def second(item: int) -> int:
        if item == 0:
            meeting.wait()
        return item

    assert list(in_stages(range(3), first, second)) == [0, 1, 2]


@pytest.mark.parametrize("where", ["source", "stage"])
def test_an_error_comes_in_its_turn_and_nothing_is_left_running(where: str) -> None:
    def source() -> Iterator[int]:
        for item in range(9):
            if where == "source" and item == 4:
                raise ValueError("four")
            yield item

    def stage(item: int) -> int:
        if where == "stage" and item == 4:
            raise ValueError("four")
        return item

    before = threading.active_count()
    found: list[int] = []
    with pytest.raises(ValueError, match="four"):
        found.extend(item for item in _noted(in_stages(source(), stage), found))
    assert found == [0, 1, 2, 3]
    assert threading.active_count() == before


def _noted(items: Iterator[int], into: list[int]) -> Iterator[int]:
    for item in items:
        into.append(item)
        if len(into) > 100:
            yield item


def test_no_further_ahead_than_said_and_closed_when_left() -> None:
    read: list[int] = []

    def source() -> Iterator[int]:
        for item in range(100):
            read.append(item)
            yield item

    before = threading.active_count()
    stages = in_stages(source(), lambda item: item, ahead=3)
    assert next(stages) == 0
    stages.close()  # type: ignore[attr-defined]
    assert len(read) <= 4
    assert threading.active_count() == before


def chunks(cases: int) -> Iterator[tuple[int, Array, NDArray[np.int16]]]:
    """Odd chunks of made-up signals, with a travel that is lost for a while."""
    random = np.random.default_rng(5)
    ticks = 5000
    rest = CONTROLLER_LAYOUT.per_row("rest").reshape(-1, 1, 1)
    sensed = rest + np.cumsum(random.normal(size=(len(rest), ticks, cases)), axis=1) * 3e-3
    sensed[CONTROLLER_LAYOUT.rows["wheel_speed"]] += 14.0
    sensed[CONTROLLER_LAYOUT.rows["shaft_travel"].start, 1500:1800] = np.nan
    mode = np.ones((1, ticks, cases), np.int16)
    mode[0, 2222:, 0] = 0
    cuts = (0, 1, 700, 3100, 3101, ticks)
    for begin, end in pairwise(cuts):
        yield begin, np.ascontiguousarray(sensed[:, begin:end]), mode[:, begin:end]


@pytest.mark.parametrize("cases", [1, 3])
def test_a_strategy_in_stages_has_the_same_bits_and_the_same_memory_before_each_chunk(cases: int) -> None:
    plug_ins = discover()
    demo = read_calibration(shipped_calibrations() / "strategies" / "marram_baseline.toml", plug_ins)
    strategy = Strategy([demo], [0] * cases, plug_ins, DT)
    one, other = strategy.start(), strategy.start()
    count = 0
    for begin, output, before in controlled(strategy, one, chunks(cases), lambda _: None):
        number, sensed, mode = next(chunk for chunk in chunks(cases) if chunk[0] == begin)
        expected_before = other.snapshot()
        _same_memory(before, expected_before)
        expected = strategy.run(sensed, mode, other)
        for name in ("rows", "before", "after", "decided", "raised"):
            np.testing.assert_array_equal(getattr(output, name), getattr(expected, name), err_msg=f"{number} {name}")
        count += 1
    assert count == 5
    resumed = StrategyMemory(DT)
    resumed.restore(one.snapshot())
    _same_memory(resumed.snapshot(), other.snapshot())


def _same_memory(one: dict[str, Any], other: dict[str, Any]) -> None:
    assert one.keys() == other.keys()
    for name, states in one.items():
        assert states.keys() == other[name].keys()
        for path, array in states.items():
            np.testing.assert_array_equal(array, other[name][path], err_msg=f"{name} {path}")


class Plain:
    """A controller without stages."""

    def run(self, sensed: Array, mode: NDArray[np.int16], memory: list[int]) -> int:
        """Count ticks."""
        memory.append(sensed.shape[1])
        return sum(memory)


def test_a_controller_without_stages_runs_one_chunk_after_the_other() -> None:
    plain: Any = Plain()
    found = list(controlled(plain, [], chunks(1), list))
    assert [output for _, output, _ in found] == [1, 700, 3100, 3101, 5000]
    assert [len(before) for *_, before in found] == [0, 1, 2, 3, 4]
