"""Hits on a threshold and turns of a command, and what must not be counted."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from dualduty.scoring.counters import Hits, Reversals
from dualduty.scoring.reading import Reading
from dualduty.scoring.reduce import Moments
from dualduty.scoring.worst_second import WorstSecond

Array = NDArray[np.float64]
DT = 1e-3
REDUCERS = (lambda: Hits(np.array([1.0]), 0.1, 0.1), lambda: Reversals(0.05), lambda: Moments(Moments.peak), WorstSecond)


def _reading(values: Any, counts: Any = None) -> Reading:
    row = np.ascontiguousarray(np.asarray(values, dtype=float).reshape(1, -1, 1))
    return Reading(row, np.ones_like(row) if counts is None else np.asarray(counts, dtype=float).reshape(1, -1, 1), DT)


def _figure(reducer: Any, *readings: Reading) -> float:
    for reading in readings:
        reducer.add(reading)
    return float(reducer.figure()[0, 0])


def _hits(values: Any, counts: Any = None) -> float:
    return _figure(Hits(np.array([1.0]), 0.1, 0.1), _reading(values, counts))


def _ticks(*runs: tuple[float, int]) -> Array:
    return np.concatenate([np.full(ticks, value) for value, ticks in runs])


def test_a_hit_is_a_hit_from_the_first_sample_on() -> None:
    assert _hits(_ticks((1.0, 10))) == 1
    assert _hits(_ticks((0.0, 50), (1.0, 1), (0.0, 50))) == 1
    assert _hits(_ticks((0.999, 50))) == 0


def test_wheel_hop_on_the_stop_is_one_hit() -> None:
    time = np.arange(0, 1, DT)
    assert _hits(1.0 + 0.5 * np.sin(2 * np.pi * 12 * time)) == 1  # off it for 42 ms each time
    assert _hits(0.5 + 0.6 * np.sin(2 * np.pi * 3 * time)) == 3


def test_hits_are_apart_when_it_stayed_away_for_a_tenth_of_a_second() -> None:
    assert _hits(_ticks((1.0, 5), (0.0, 99), (1.0, 5))) == 1
    assert _hits(_ticks((1.0, 5), (0.0, 100), (1.0, 5))) == 2


def test_noise_at_the_threshold_is_one_hit() -> None:
    assert _hits(1.0 + 0.04 * np.random.default_rng(0).standard_normal(5000).clip(-2, 2)) == 1


def test_turns_of_a_sine_and_of_a_triangle() -> None:
    time = np.arange(0, 2, DT)
    # 5 Hz for 2 s: 20 extremes; the last lies 50 ms before the end and has gone back by more than the hysteresis
    assert _figure(Reversals(0.05), _reading(0.5 + 0.3 * np.sin(2 * np.pi * 5 * time))) == pytest.approx(20 / 2)
    assert _figure(Reversals(0.05), _reading(np.concatenate([np.linspace(0, 1, 500), np.linspace(1, 0, 500)]))) == pytest.approx(1.0)


def test_what_stays_within_the_hysteresis_is_no_turn() -> None:
    noise = np.random.default_rng(0).uniform(-0.02, 0.02, 2000)
    assert _figure(Reversals(0.05), _reading(0.5 + noise)) == 0.0
    assert _figure(Reversals(0.05), _reading(np.linspace(0, 1, 2000) + noise)) == 0.0
    assert _figure(Reversals(0.03), _reading(0.5 + noise)) > 100  # planted fault: too small a hysteresis counts the noise


def test_the_first_move_is_no_turn() -> None:
    assert _figure(Reversals(0.05), _reading(_ticks((0.5, 100), (0.2, 900)))) == 0.0
    assert _figure(Reversals(0.05), _reading(_ticks((0.5, 100), (0.2, 100), (0.5, 800)))) == pytest.approx(1.0)


def _turns_by_hand(values: Sequence[float], hysteresis: float) -> int:
    """The same count from a list of turning points: of each pair, drop those that swing less than the hysteresis."""
    extreme, way, turns = [values[0], values[0]], 0, 0
    for value in values:
        extreme = [min(extreme[0], value), max(extreme[1], value)]
        if way != -1 and extreme[1] - value > hysteresis:
            turns, way, extreme = turns + (way == 1), -1, [value, value]
        elif way != 1 and value - extreme[0] > hysteresis:
            turns, way, extreme = turns + (way == -1), 1, [value, value]
    return turns


@given(st.lists(st.floats(0.0, 1.0), min_size=1, max_size=60))
def test_turns_agree_with_a_plain_count(values: list[float]) -> None:
    assert _figure(Reversals(0.05), _reading(values)) == pytest.approx(_turns_by_hand(values, 0.05) / (len(values) * DT))


@pytest.mark.parametrize("reducer", REDUCERS)
def test_chunks_are_the_whole_to_the_bit_and_what_does_not_count_is_not_there(reducer: Any) -> None:
    random = np.random.default_rng(4)
    values = np.repeat(random.uniform(0, 1.4, 400), 10)
    counts = np.repeat(random.integers(0, 2, 40), 100)
    whole = _figure(reducer(), _reading(values, counts))
    parts = [_reading(*pair) for pair in zip(np.split(values, [1, 7, 1999]), np.split(counts, [1, 7, 1999]), strict=True)]
    assert _figure(reducer(), *parts) == whole
    garbage = np.where(counts > 0, values, np.nan)
    assert _figure(reducer(), _reading(garbage, counts)) == whole
    assert _figure(reducer(), _reading(values[counts > 0])) == whole


@pytest.mark.parametrize("reducer", REDUCERS)
@pytest.mark.parametrize("bad", [np.nan, np.inf])
def test_what_is_not_a_number_is_never_a_figure(reducer: Any, bad: float) -> None:
    values = np.full(2000, 0.5)
    values[1000] = bad
    assert np.isnan(_figure(reducer(), _reading(values)))


def test_a_run_shorter_than_a_second_has_no_worst_second() -> None:
    worst = WorstSecond()
    assert np.isnan(_figure(worst, _reading(np.ones(999))))
    assert "1 s" in worst.too_little
    assert _figure(WorstSecond(), _reading(np.ones(1000))) == pytest.approx(1.0)
