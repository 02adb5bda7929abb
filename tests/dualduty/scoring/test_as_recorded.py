"""Scores of a log are made of what was recorded, at its own rate, not of what was held for the controller."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np

from dualduty.scoring.measure import discover_measures
from dualduty.scoring.score import score
from replay.array_log import log_of_arrays
from replay.open_loop import replay
from tests.replay.made_up_logs import Remembers


def scored(name: str, values: Any, rate: float, car: Any, *, signal: str, chunk_ticks: int = 20_000) -> tuple[float, str]:
    """A measure of one signal, sampled at `rate` and replayed at ticks of 4 ms; with where it was read from."""
    time = np.arange(values.shape[-1]) / rate
    trace = replay(log_of_arrays(time, {signal: values}, "dash"), Remembers(), chunk_ticks=chunk_ticks)
    scores = score(trace, car, [discover_measures()[name]])
    return scores.value(name), scores.notes.get(name, "")


def test_a_peak_between_two_ticks_counts(car: SimpleNamespace) -> None:
    travel = np.full((4, 2000), 0.1)
    travel[1, 1002] = 0.22  # at 1 kHz; a tick of 4 ms sees the sample before it, or the one two later
    value, note = scored("peak_compression", travel, 1000.0, car, signal="shaft_travel")
    assert value == 0.22 / 0.25
    assert "as recorded" in note


def test_cuts_change_nothing_and_the_rate_is_the_recorded_one(car: SimpleNamespace) -> None:
    felt = 9.80665 + np.random.default_rng(3).normal(0.0, 2.0, (1, 6000))
    values = {
        scored("weighted_seat_acceleration", felt, 500.0, car, signal="seat_specific_force_z", chunk_ticks=t)[0] for t in (97, 20_000)
    }
    assert len(values) == 1
    # white noise of 500 Hz held to ticks of 4 ms would lose every second sample, and with it the band above 125 Hz folds down
    assert values.pop() > 0
