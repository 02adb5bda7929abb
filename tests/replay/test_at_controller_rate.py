"""Resampling to the controller's ticks: causal, the same to the bit in every cut, NaN where nothing is recent enough."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import pytest
from numpy.typing import NDArray

from replay.at_controller_rate import SLACK, Sensed, at_controller_rate
from replay.log import LogPart, Stream

Array = NDArray[np.float64]


def parts_of(time: Array, values: Array, cuts: Sequence[int] = (), stream: Stream | None = None) -> list[LogPart]:
    edges = [0, *cuts, len(time)]
    lines = np.arange(len(time))
    at = stream or only(len(values))
    late = time + at.latency
    parts = [LogPart(at.index, at.rows, time[a:b], late[a:b], values[:, a:b], lines[a:b]) for a, b in pairwise(edges)]
    nothing = np.empty(0)
    return [*parts, LogPart(at.index, at.rows, nothing, nothing, values[:, :0], lines[:0], 1.0, ended=True)]


def only(rows: int) -> Stream:
    return Stream(0, 0, 0.0, np.arange(rows))


def resampled(parts: list[LogPart], dt: float, bridges: Array, chunk_ticks: int = 20_000) -> list[Sensed]:
    streams = (only(len(bridges)),)
    return list(at_controller_rate(parts, dt, streams=streams, bridges=bridges, longest_hold=0.1, chunk_ticks=chunk_ticks))


def joined(chunks: list[Sensed]) -> Array:
    return np.concatenate([chunk.values for chunk in chunks], axis=1)


def by_hand(time: Array, values: Array, dt: float, bridges: Array, longest: float) -> Array:
    """The definition, tick by tick and row by row."""
    ticks = [k * dt for k in range(int(time[-1] / dt) + 2) if k * dt <= time[-1] + SLACK]
    out = np.full((len(values), len(ticks)), np.nan)
    for k, tick in enumerate(ticks):
        come = np.flatnonzero(time <= tick + SLACK)
        for row in range(len(values)):
            if bridges[row] > 0:
                held = [s for s in come if not np.isnan(values[row, s])]
                if held and tick - time[held[-1]] <= bridges[row]:
                    out[row, k] = values[row, held[-1]]
            elif tick - time[come[-1]] <= longest:
                out[row, k] = values[row, come[-1]]
    return out


def uneven_log(seed: int, samples: int = 300) -> tuple[Array, Array]:
    random = np.random.default_rng(seed)
    steps = random.uniform(0.001, 0.009, samples)
    steps[random.integers(1, samples, 4)] = 0.17  # gaps longer than the hold
    time = np.cumsum(steps)
    values = random.normal(size=(3, samples))
    values[1, random.random(samples) < 0.6] = np.nan
    values[2, 40:70] = np.nan
    return time - time[0], values


BRIDGES = np.array([0.0, 0.03, 0.0])


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("dt", [0.002, 0.005, 0.0131])
def test_it_is_the_definition(seed: int, dt: float) -> None:
    time, values = uneven_log(seed)
    came = joined(resampled(parts_of(time, values), dt, BRIDGES))
    np.testing.assert_array_equal(came, by_hand(time, values, dt, BRIDGES, 0.1))
    assert np.isnan(came[0]).any(), "the gaps of this log are longer than the hold"


@pytest.mark.parametrize("chunk_ticks", [1, 7, 100_000])
def test_cuts_of_the_log_and_of_the_ticks_change_no_bit(chunk_ticks: int) -> None:
    time, values = uneven_log(3)
    whole = joined(resampled(parts_of(time, values), 0.004, BRIDGES))
    for cuts in ((1, 2, 3), (150,), tuple(range(1, 300)), (0, 0, 299)):
        chunks = resampled(parts_of(time, values, cuts), 0.004, BRIDGES, chunk_ticks)
        np.testing.assert_array_equal(joined(chunks), whole)
        assert all(chunk.values.shape[1] == chunk_ticks for chunk in chunks[:-1])
        assert [chunk.start for chunk in chunks] == [index * chunk_ticks for index in range(len(chunks))]


@pytest.mark.parametrize("chunk_ticks", [1, 50, 100_000])
def test_streams_at_their_own_rates_and_latencies_are_held_each_for_itself(chunk_ticks: int) -> None:
    random = np.random.default_rng(2)
    fast, slow = np.arange(0.0, 1.2, 0.001), np.arange(0.0031, 0.8, 0.02)  # the slow one also ends early
    streams = (Stream(0, 0, 0.0, np.array([0, 2])), Stream(1, 1, 0.015, np.array([1])))
    values = random.normal(size=(2, len(fast))), random.normal(size=(1, len(slow)))
    parts = [
        part
        for time, given, stream in zip((fast, slow), values, streams, strict=True)
        for part in parts_of(time, given, (7, len(time) // 2), stream)
    ]
    parts.sort(key=lambda part: part.time[0] if len(part.time) else np.inf)
    bridges = np.array([0.0, 0.0, 0.05, 0.0])  # the last row has no channel
    chunks = list(at_controller_rate(parts, 0.002, streams=streams, bridges=bridges, longest_hold=0.1, chunk_ticks=chunk_ticks))
    came = joined(chunks)
    np.testing.assert_array_equal(came[[0, 2]], by_hand(fast, values[0], 0.002, np.array([0.0, 0.05]), 0.1))
    late = slow + 0.015
    for tick in range(came.shape[1]):
        come = np.flatnonzero(late <= tick * 0.002 + SLACK)
        held = len(come) and tick * 0.002 - late[come[-1]] <= 0.1
        assert (came[1, tick] == values[1][0, come[-1]]) if held else np.isnan(came[1, tick])
    assert np.isnan(came[1, -1])
    assert np.isnan(came[3]).all()


def test_no_tick_knows_a_later_sample() -> None:
    time, values = uneven_log(1)
    changed = values.copy()
    changed[:, 200:] += 1.0
    first, second = (joined(resampled(parts_of(time, v), 0.004, BRIDGES)) for v in (values, changed))
    before = np.arange(first.shape[1]) * 0.004 + SLACK < time[200]
    np.testing.assert_array_equal(first[:, before], second[:, before])
    assert not np.array_equal(first[:, ~before], second[:, ~before], equal_nan=True)


def test_one_sample_a_tick_comes_through_unchanged_whatever_the_rounding_of_its_stamps() -> None:
    printed = np.array([float(f"{1234.5 + k * 0.002:.3f}") for k in range(5000)])
    values = np.arange(5000.0)[None]
    came = joined(resampled(parts_of(printed - printed[0], values), 0.002, np.zeros(1)))
    np.testing.assert_array_equal(came, values)


def test_a_gap_is_held_for_the_longest_hold_and_then_is_nothing() -> None:
    time = np.array([0.0, 0.01, 0.5])
    came = joined(resampled(parts_of(time, np.array([[1.0, 2.0, 3.0]])), 0.01, np.zeros(1)))
    assert came[0, 1:12].tolist() == [2.0] * 11  # 0.01 s to 0.11 s
    assert np.isnan(came[0, 12:50]).all()
    assert came[0, 50] == 3.0


def test_a_blank_is_seen_at_once_unless_it_is_bridged() -> None:
    time = np.arange(6.0) * 0.01
    values = np.tile([1.0, np.nan, np.nan, np.nan, 5.0, np.nan], (2, 1))
    came = joined(resampled(parts_of(time, values), 0.01, np.array([0.0, 0.02])))
    np.testing.assert_array_equal(came[0], values[0])
    np.testing.assert_array_equal(came[1], [1.0, 1.0, 1.0, np.nan, 5.0, 5.0])
