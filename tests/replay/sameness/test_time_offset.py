"""What the search for an offset says where there is little to go by."""

from __future__ import annotations

import numpy as np

from replay.sameness.time_offset import MOST_STRETCHES, OffsetFinder, lag_of

DT = 0.002


def noise(ticks: int, seed: int) -> np.ndarray:
    """Two rows of smoothed noise around a half."""
    rough = np.random.default_rng(seed).standard_normal((2, ticks + 99))
    return np.stack([np.convolve(row, np.ones(100) / 20.0, "valid") for row in rough])


def test_rows_that_do_not_move_say_nothing() -> None:
    still = np.full((2, 2000), 0.3)
    assert np.isnan(lag_of(still, noise(2000, 1), 250)[0])
    finder = OffsetFinder(DT)
    finder.take(still, still)
    found = finder.result()
    assert (found.stretches, found.certain) == (0, False)
    assert str(found).startswith("time offset not found")


def test_two_recordings_of_different_things_are_not_given_an_offset() -> None:
    finder = OffsetFinder(DT)
    finder.take(noise(20_000, 1), noise(20_000, 2))
    assert finder.result().stretches <= 1  # 8 looked at; by chance hardly one reaches the correlation asked for
    assert not finder.result().certain


def test_gaps_are_passed_over() -> None:
    one = noise(4000, 3)
    later = np.roll(one, 9, axis=1)
    later[:, 1000:1400] = np.nan
    assert abs(lag_of(later, one, 250)[0] - 9.0) < 0.1  # 0.01 here


def test_chunks_give_the_same_as_all_at_once_and_a_short_log_is_one_stretch() -> None:
    one = noise(12_300, 4)
    later = np.roll(one, 5, axis=1)
    whole, pieces = OffsetFinder(DT), OffsetFinder(DT)
    whole.take(later, one)
    for start in range(0, 12_300, 701):
        pieces.take(later[:, start : start + 701], one[:, start : start + 701])
    assert whole.result() == pieces.result()
    short = OffsetFinder(DT)
    short.take(later[:, :1500], one[:, :1500])
    assert (short.result().stretches, short.result().certain) == (1, False)


def test_a_long_log_is_thinned_evenly() -> None:
    finder = OffsetFinder(DT, longest=0.01, stretch=0.2)
    one = noise(100 * 450, 6)
    finder.take(np.roll(one, 2, axis=1), one)
    found = finder.result()
    assert MOST_STRETCHES / 2 <= found.looked_at < MOST_STRETCHES
    assert abs(found.seconds - 2 * DT) < 0.1 * DT
    assert abs(found.middle / (100 * 450 * DT) - 0.5) < 0.1
