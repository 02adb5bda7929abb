"""Blocks that open and close: tick by tick."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from dualduty.blocks import counter, delay, fade, hold, keep_while, schmitt_trigger
from dualduty.memory import Memory

Array = NDArray[np.float64]
Run = Callable[..., Array]
DT = 0.01


def row(*values: float) -> Array:
    """One corner, one case."""
    return np.array(values, float).reshape(1, -1, 1)


def digits(text: str) -> Array:
    """Gate values written as a string of 0 and 1."""
    return row(*(float(letter) for letter in text))


def text(array: Array) -> str:
    """The same, the other way."""
    return "".join(str(int(value)) for value in array[0, :, 0])


@pytest.mark.parametrize(
    ("level", "times", "expected"),
    [
        # level as digits: 0 below off, 1 between off and on, 2 on or above
        ("0122110", {}, "0011110"),  # no delays: the same tick; between the thresholds it stays as it was
        ("2210", {}, "1110"),  # at `on` on the first tick
        ("0222222", {"on_delay": 0.03}, "0000111"),  # three ticks of wishing, then on
        ("0220222200", {"on_delay": 0.02}, "0000001100"),  # an interrupted wish starts anew
        ("2200000", {"off_delay": 0.02}, "1111000"),
        ("2201200", {"off_delay": 0.02}, "1111111"),  # never below for long enough
        ("2000000", {"dwell": 0.03}, "1110000"),  # active for three ticks, however short the cause
        ("2222000", {"dwell": 0.03}, "1111000"),  # dwell is over already
        ("2000000", {"dwell": 0.01}, "1000000"),
        ("2000000", {"dwell": 0.03, "off_delay": 0.01}, "1110000"),  # the delay runs during the dwell
        ("2020202", {"dwell": 0.02}, "1110111"),  # a wish during the dwell that is withdrawn is forgotten
    ],
)
def test_schmitt_trigger_tick_by_tick(level: str, times: dict[str, float], expected: str, run: Run) -> None:
    made = run(lambda x, m: schmitt_trigger(x[0], 2.0, 1.0, m("b"), **times), (digits(level),))
    assert text(made) == expected


def test_schmitt_trigger_switches_exactly_at_its_thresholds(run: Run) -> None:
    level = row(np.nextafter(0.5, 0.0), 0.5, 0.2, np.nextafter(0.2, 0.0))
    assert text(run(lambda x, m: schmitt_trigger(x[0], 0.5, 0.2, m("b")), (level,))) == "0110"


def test_a_level_that_is_not_a_number_never_switches(run: Run) -> None:
    nan = float("nan")
    assert text(run(lambda x, m: schmitt_trigger(x[0], 0.5, 0.2, m("b")), (row(nan, 1.0, nan, nan, 0.0, nan),))) == "011100"


def _by_hand(level: list[float], on: int, off: int, dwell: int) -> str:
    """The trigger written from its sentence: looks back over the whole past at every tick."""
    active, since, out = False, -(10**9), []
    for tick in range(len(level)):
        needed = off if active else on
        start = tick
        while start >= 0 and start > since and (level[start] < 0.2 if active else level[start] >= 0.5):
            start -= 1
        lasted = tick - start  # ticks of wishing up to now, since the last switch
        if lasted > needed and (not active or tick - since >= dwell):
            active, since = not active, tick
        out.append("1" if active else "0")
    return "".join(out)


@given(
    level=st.lists(st.sampled_from([0.0, 0.3, 0.7]), min_size=1, max_size=40),
    on=st.integers(0, 4), off=st.integers(0, 4), dwell=st.integers(0, 6),
)  # fmt: skip
def test_schmitt_trigger_is_its_sentence(level: list[float], on: int, off: int, dwell: int) -> None:
    memory = Memory(DT)
    made = schmitt_trigger(row(*level), 0.5, 0.2, memory("b"), on_delay=on * DT, off_delay=off * DT, dwell=dwell * DT)
    assert text(made) == _by_hand(level, on, off, dwell)


@pytest.mark.parametrize(
    ("gate", "time", "expected"),
    [
        ("0010000", 0.03, "0011110"),  # the open tick, and three more
        ("0110100", 0.02, "0111111"),
        ("0010000", 0.0, "0010000"),
        ("1000000", 0.01, "1100000"),
    ],
)
def test_hold(gate: str, time: float, expected: str, run: Run) -> None:
    assert text(run(lambda x, m: hold(x[0], time, m("b")), (digits(gate),))) == expected


def test_keep_while_keeps_the_value_from_just_before_the_gate_opened(run: Run) -> None:
    value, gate = row(1, 2, 3, 4, 5, 6), row(1, 0, 0, 1, 1, 0)  # the first sample always passes
    made = run(lambda x, m: keep_while(x[0], x[1], m("b")), (value, gate))
    np.testing.assert_array_equal(made, row(1, 2, 3, 3, 3, 6))


def test_counter_counts_openings_and_forgets(run: Run) -> None:
    gate = digits("0110100000100")
    made = run(lambda x, m: counter(x[0], 0.04, m("b")), (gate,))
    assert text(made) == "0111222220111"


def test_counter_sees_an_opening_at_the_first_tick(run: Run) -> None:
    assert text(run(lambda x, m: counter(x[0], 1.0, m("b")), (digits("1101"),))) == "1112"


def test_fade_takes_the_stated_time_either_way(run: Run) -> None:
    gate = digits("0111110000")
    made = run(lambda x, m: fade(x[0], 0.04, 0.02, m("b")), (gate,))
    # atol: four additions of 0.25, exact here
    np.testing.assert_allclose(made, row(0, 0.25, 0.5, 0.75, 1, 1, 0.5, 0, 0, 0), atol=1e-15)


def test_a_fade_of_no_time_follows_at_once_and_starts_at_the_first_sample(run: Run) -> None:
    gate = row(1, 0, 1, 0.4)
    np.testing.assert_array_equal(run(lambda x, m: fade(x[0], 0.0, 0.0, m("b")), (gate,)), gate)


def test_delay_gives_what_was_before_and_the_first_sample_until_then(run: Run) -> None:
    made = run(lambda x, m: delay(x[0], 0.02, m("b"), longest=0.05), (row(7, 1, 2, 3, 4, 5),))
    np.testing.assert_array_equal(made, row(7, 7, 7, 1, 2, 3))


def test_delay_keeps_its_ring_when_a_mode_changes_the_time() -> None:
    memory = Memory(DT)
    wave = np.arange(20.0)
    out = []
    for tick, value in enumerate(wave):
        mode = int(tick >= 10)
        memory.begin(binding=mode)
        out.append(delay(row(value), (0.02, 0.05)[mode], memory("b"), longest=0.05)[0, 0, 0])
        memory.end()
    np.testing.assert_array_equal(out, [*np.maximum(wave[:10] - 2, 0), *(wave[10:] - 5)])


def test_delays_may_differ_by_case(run: Run) -> None:
    wave = np.tile(np.arange(6.0).reshape(1, 6, 1), (1, 1, 2))
    made = run(lambda x, m: delay(x[0], np.array([0.0, 0.03]).reshape(1, 1, 2), m("b"), longest=0.05), (wave,))
    np.testing.assert_array_equal(made[0, :, 0], [0, 1, 2, 3, 4, 5])
    np.testing.assert_array_equal(made[0, :, 1], [0, 0, 0, 0, 1, 2])


def test_times_are_rounded_to_whole_ticks(run: Run) -> None:
    for time, expected in ((0.0149, "0110"), (0.0151, "0111")):
        assert text(run(lambda x, m, t=time: hold(x[0], t, m("b")), (digits("0100"),))) == expected
