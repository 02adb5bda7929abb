"""Raw samples beside the ticks: the same for any cut, on a sample its value, off it a straight line, nothing across a gap."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from dualduty.signals import SIGNALS
from replay.array_log import log_of_arrays
from replay.log import Log, LogPart
from replay.raw_beside import RawBeside

Array = NDArray[np.float64]
DT = 0.002  # s
NAME = "shaft_travel"


def log_of(time: Array, travel: Array) -> Log:
    return log_of_arrays(time, {NAME: np.broadcast_to(travel, (SIGNALS[NAME].corners, len(time)))}, "patrol")


def cut(log: Log, size: int) -> Iterator[LogPart]:
    """The parts of a log in pieces of `size` samples."""
    for part in log.parts():
        for start in range(0, max(len(part.time), 1), size):
            piece = slice(start, start + size)
            yield LogPart(
                part.stream, part.rows, part.stamps[piece], part.time[piece], part.values[:, piece], part.lines[piece], ended=part.ended
            )


def beside(log: Log, size: int, chunk: int) -> tuple[Array, Array]:
    """Times and values of the first corner when parts have `size` samples and chunks `chunk` ticks, each asked for once it is over."""
    raw = RawBeside(log, (NAME,))
    stamps: list[float] = []
    pieces: list[Array] = []
    step, asked = 0.0, 0
    for part in raw.listen(cut(log, size)):
        stamps += part.time.tolist()
        until = stamps[-1] + chunk * DT if part.ended else stamps[-1]
        while (asked + chunk) * DT <= until:
            given = raw.upto(asked, chunk, DT)[NAME]
            pieces.append(given.values[0, :, 0])
            step, asked = given.step, asked + chunk
    values = np.concatenate(pieces)
    return np.asarray((np.ceil(stamps[0] / step - 1e-6) + np.arange(len(values))) * step, dtype=np.float64), values


@st.composite
def jumpy(draw: st.DrawFn) -> tuple[Array, Array]:
    """Stamps on a grid, some jittered, some missing; values, some blank."""
    random = np.random.default_rng(draw(st.integers(0, 2**31)))
    time = np.arange(draw(st.integers(3, 60))) * draw(st.sampled_from([0.001, 0.01, 0.003]))
    time = time + random.normal(0.0, 2e-4, len(time)) * (random.random(len(time)) < draw(st.sampled_from([0.0, 0.5])))
    keep = random.random(len(time)) > draw(st.sampled_from([0.0, 0.4]))
    keep[:3] = True
    values = np.where(random.random(len(time)) < draw(st.sampled_from([0.0, 0.3])), np.nan, random.normal(size=len(time)))
    values[0] = 0.0
    return np.asarray(np.sort(time[keep]), dtype=np.float64), np.asarray(values[keep], dtype=np.float64)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(jumpy(), st.integers(1, 40), st.integers(1, 30))
def test_any_cut_gives_the_same_bits(drive: tuple[Array, Array], size: int, chunk: int) -> None:
    log = log_of(*drive)
    whole, pieces = beside(log, 1000, 1)[1], beside(log, size, chunk)[1]
    shared = min(len(whole), len(pieces))  # the last chunk ends where it may, within a tick of the last sample
    assert shared >= len(whole) - 3
    np.testing.assert_array_equal(pieces[:shared], whole[:shared])


@pytest.mark.parametrize("size", [1, 2, 1000])
def test_a_point_on_a_sample_is_that_sample_whatever_lies_beside_it(size: int) -> None:
    time = np.delete(np.arange(40) * 0.01, slice(10, 20))  # 0.09 s stands before a gap and 0.2 s after it
    travel = np.arange(30, dtype=float)
    travel[[5, 25]] = np.nan
    at, values = beside(log_of(time, travel), size, 1)
    expected = np.full(len(at), np.nan)
    places = np.round(time / 0.01).astype(int)
    expected[places] = travel
    np.testing.assert_array_equal(values, expected)


def test_between_two_samples_lies_a_straight_line() -> None:
    random = np.random.default_rng(3)
    time = np.arange(200) * 0.01 + random.uniform(-0.002, 0.002, 200)
    at, values = beside(log_of(time, 3.0 * time), 17, 5)
    inside = (at >= 0.0) & np.isfinite(values)
    assert inside.mean() > 0.98  # but the first, which may lie before the first sample
    # atol: a straight line of size 6 stays one but for rounding
    np.testing.assert_allclose(values[inside], 3.0 * (time[0] + at[inside]), atol=1e-12)
