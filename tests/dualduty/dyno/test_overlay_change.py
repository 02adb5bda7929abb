"""Before and after: a change is told in words with its range; re-mounting and repeats are not a change."""

from __future__ import annotations

import numpy as np

from dualduty.dyno.change import change_between
from tests.dualduty.dyno.dampers import Array, sheet


def firmer_when_fast(speeds: Array, duties: Array) -> Array:
    return np.where(speeds >= 1.0, 1.10, 1.0) * np.ones_like(duties)


def test_the_change_is_told_and_the_other_side_said_unchanged() -> None:
    said = change_between(sheet("A", "rear_left", seed=1), sheet("A", "rear_left", seed=2, compression=firmer_when_fast)).sentences()
    assert said[0] == "compression +10 % from 1.0 to 3.0 m/s, at all duties"
    assert said[1].startswith("rebound unchanged beyond scatter (at most ")


def test_repeats_alone_are_no_change_at_any_seed() -> None:
    found = [change_between(sheet("A", "rear_left", seed=seed), sheet("A", "rear_left", seed=seed + 500)) for seed in range(100)]
    # measured over 1000 seeds: none
    assert sum(len(side.regions) for each in found for side in each.sides) == 0


def test_another_damper_is_noticed() -> None:
    assert change_between(sheet("A", "rear_left"), sheet("B", "rear_right")).notices == (
        "serial is A before and B after",
        "corner is rear-left before and rear-right after",
    )


def test_what_mounting_again_may_do_is_no_change() -> None:
    """1.5 % more everywhere, in readings without scatter: within the 2 % of re-mounting."""

    def remounted(speeds: Array, duties: Array) -> Array:
        return np.full(np.broadcast_shapes(speeds.shape, duties.shape), 1.015)

    found = change_between(sheet("A", "rear_left", repeat=0.0), sheet("A", "rear_left", repeat=0.0, compression=remounted))
    assert found.sentences()[0] == "compression unchanged beyond scatter (at most 1.5 % at any tested speed)"
