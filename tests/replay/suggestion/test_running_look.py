"""What is told of a channel in one pass: the same for any cut into blocks, right against a look at the whole, and small."""

from __future__ import annotations

from itertools import pairwise

import hypothesis
import numpy as np
import pytest
from hypothesis import strategies
from numpy.typing import NDArray

from replay.suggestion.running_look import BINS, KEPT, ChannelLook, ClockLook, Strip, Thinned

Array = NDArray[np.float64]


def values(samples: int = 3000, seed: int = 5) -> Array:
    random = np.random.default_rng(seed)
    made = np.array(np.round(np.cumsum(random.normal(0.0, 1.0, samples)), 1), dtype=np.float64)
    made[random.uniform(size=samples) < 0.1] = np.nan
    return made


def looked(whole: Array, cuts: list[int]) -> ChannelLook:
    look = ChannelLook()
    for start, stop in pairwise([0, *sorted(min(cut, len(whole)) for cut in cuts), len(whole)]):
        look.see(whole[start:stop])
    return look


@hypothesis.settings(max_examples=30)
@hypothesis.given(strategies.lists(strategies.integers(0, 3000), max_size=10))
def test_any_cut_into_blocks_tells_the_same(cuts: list[int]) -> None:
    whole, cut = looked(values(), []), looked(values(), cuts)
    for name in ("samples", "valid", "least", "most", "spacing"):
        assert getattr(cut, name) == getattr(whole, name), name
    assert cut.step == pytest.approx(whole.step, rel=1e-9)  # which rounding is left depends on the block, its size does not
    assert cut.percentile(37.0) == whole.percentile(37.0)
    for one, other in zip(cut.strip.drawn(), whole.strip.drawn(), strict=True):
        np.testing.assert_array_equal(one, other)


def test_range_percentiles_and_step_are_those_of_the_whole() -> None:
    made = values(10_000)
    look = looked(made, list(range(0, 10_000, 777)))
    assert (look.valid, look.least, look.most) == (np.isfinite(made).sum(), np.nanmin(made), np.nanmax(made))
    assert look.percentile(99.0) == np.nanpercentile(made, 99.0)  # fewer values than are kept
    assert look.step == pytest.approx(0.1, rel=1e-6)


def test_percentiles_of_more_than_is_kept_come_close() -> None:
    made = np.random.default_rng(2).normal(size=20 * KEPT)
    look = looked(made, [])
    # standard error of a 99th percentile over 8192 normal values: 0.041; three times that
    assert look.percentile(99.0) == pytest.approx(np.percentile(made, 99.0), abs=0.12)


@hypothesis.settings(max_examples=30)
@hypothesis.given(strategies.lists(strategies.integers(0, 1000), max_size=10))
def test_what_is_kept_is_every_nth_of_the_whole_for_any_cut(cuts: list[int]) -> None:
    whole = np.arange(1000.0)
    thinned = Thinned(100)
    for start, stop in pairwise([0, *sorted(cuts), 1000]):
        thinned.see(whole[start:stop])
    np.testing.assert_array_equal(thinned.kept, whole[::16])  # 1000 / 8 are still too many for 100


def test_memory_does_not_grow() -> None:
    look, kept = ChannelLook(), Thinned(100)
    for _ in range(50):
        look.see(np.arange(10_000.0))
        kept.see(np.arange(10_000.0))
    assert len(look.strip.drawn()[0]) <= 2 * BINS + 1
    assert len(kept.kept) <= 100
    assert look.distinct is None


def test_a_strip_keeps_every_peak() -> None:
    made = np.zeros(100_000)
    made[77_777] = 5.0
    made[11_111] = -3.0
    strip = Strip()
    for block in np.split(made, 40):
        strip.see(block)
    low, high = strip.drawn()
    assert (low.min(), high.max()) == (-3.0, 5.0)
    assert np.argmax(high) / len(high) == pytest.approx(0.77777, abs=1 / BINS)


def test_a_slow_channel_in_a_fast_group_has_its_own_spacing() -> None:
    made = np.full(1000, np.nan)
    made[::4] = 1.0
    made[400:480] = np.nan
    assert looked(made, [3, 401]).spacing == 4


@pytest.mark.parametrize("made", [np.full(10, np.nan), np.empty(0), np.array([np.inf, -np.inf])])
def test_nothing_to_tell_of_nothing(made: Array) -> None:
    look = looked(made, [])
    assert look.valid == 0
    assert np.isnan(look.percentile(50.0))


def test_gaps_are_steps_far_longer_than_usual() -> None:
    stamps = np.arange(0.0, 10.0, 0.01)
    kept = np.concatenate([stamps[:200], stamps[230:500], stamps[502:503], stamps[504:]])
    clock = ClockLook()
    for block in np.array_split(kept, 7):
        clock.see(block)
    # 30 samples left out, then 2, then 1: three steps of the usual one are told, two are not
    np.testing.assert_allclose(clock.gaps, [0.03, 0.31], rtol=1e-9)
    assert clock.usual == pytest.approx(0.01, rel=1e-9)


def test_stamps_that_stand_or_run_back_are_counted() -> None:
    clock = ClockLook()
    clock.see(np.array([0.0, 1.0, 2.0, 2.0]))
    clock.see(np.array([1.5, 3.0, np.nan, 4.0]))
    assert (clock.back, clock.repeated, clock.first, clock.last) == (1, 1, 0.0, 4.0)
