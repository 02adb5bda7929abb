"""An inertial unit turned and brought to the centre of gravity: which components take part, and that no cut into blocks matters."""

from __future__ import annotations

from itertools import pairwise

import hypothesis
import numpy as np
import pytest
from hypothesis import strategies
from numpy.typing import NDArray

from replay.channels.mounting import AS_BUILT, FORCES, RATES, Mounting

Array = NDArray[np.float64]
QUARTER = ((0.0, -1.0, 0.0), (1.0, 0.0, 0.0), (0.0, 0.0, 1.0))  # forward is the unit's -y, left its x
LEANING = ((0.8, 0.0, 0.6), (0.0, 1.0, 0.0), (-0.6, 0.0, 0.8))


def waved(samples: int = 400, seed: int = 3) -> tuple[Array, Array, Array]:
    """Uneven stamps, forces and rates, some without a value."""
    random = np.random.default_rng(seed)
    time = np.cumsum(random.uniform(0.002, 0.008, samples))
    forces, rates = random.normal(0.0, 5.0, (3, samples)), np.cumsum(random.normal(0.0, 0.1, (3, samples)), axis=1)
    for stack in (forces, rates):
        stack[random.uniform(size=stack.shape) < 0.03] = np.nan
    return time, forces, rates


def test_a_unit_that_sits_straight_changes_nothing() -> None:
    time, forces, rates = waved()
    felt, turned = Mounting().start().turn(time, forces, rates)
    np.testing.assert_array_equal(felt, forces)
    np.testing.assert_array_equal(turned, rates)
    assert Mounting().needs == ()


def test_a_quarter_turn_swaps_axes_and_signs() -> None:
    time, forces, rates = waved()
    felt, turned = Mounting(QUARTER).start().turn(time, forces, rates)
    np.testing.assert_array_equal(felt, [-forces[1], forces[0], forces[2]])
    np.testing.assert_array_equal(turned, [-rates[1], rates[0], rates[2]])


@hypothesis.settings(max_examples=25)
@hypothesis.given(strategies.lists(strategies.integers(0, 400), max_size=12), strategies.sampled_from([AS_BUILT, QUARTER, LEANING]))
def test_any_cut_into_blocks_gives_the_same_bits(cuts: list[int], axes: tuple[tuple[float, float, float], ...]) -> None:
    time, forces, rates = waved()
    mounting = Mounting(axes, (0.4, -0.2, 0.3))  # type: ignore[arg-type]
    whole = mounting.start().turn(time, forces, rates)
    turning = mounting.start()
    edges = [0, *sorted(cuts), len(time)]
    parts = [turning.turn(time[a:b], forces[:, a:b], rates[:, a:b]) for a, b in pairwise(edges)]
    for index in range(2):
        np.testing.assert_array_equal(np.concatenate([part[index] for part in parts], axis=1), whole[index])


@pytest.mark.parametrize("axes", [AS_BUILT, QUARTER, LEANING])
@pytest.mark.parametrize(
    "position", [(0.0, 0.0, 0.0), (0.5, 0.0, 0.0), (0.0, -0.4, 0.0), (0.0, 0.0, 0.3), (0.2, 0.3, 0.0), (0.1, 0.2, 0.3)]
)
def test_a_component_has_no_value_exactly_where_one_it_is_made_of_has_none(
    axes: tuple[tuple[float, float, float], ...], position: tuple[float, float, float]
) -> None:
    """`made_from` says what the arithmetic does: blank one of the unit's signals at a time and see what goes blank."""
    mounting = Mounting(axes, position)  # type: ignore[arg-type]
    for blank, name in enumerate((*FORCES, *RATES)):
        signals = np.ones((6, 3))
        signals[blank, 2] = np.nan
        felt, turned = mounting.start().turn(np.array([0.0, 0.01, 0.02]), signals[:3].copy(), signals[3:].copy())
        gone = {made for made, row in zip((*FORCES, *RATES), (*felt, *turned), strict=True) if np.isnan(row[2])}
        assert gone == {made for made in (*FORCES, *RATES) if name in mounting.made_from(made)}, name


def test_a_gyro_that_comes_back_goes_on_from_where_it_was() -> None:
    time = np.arange(600, dtype=np.float64) * 0.005
    rates = np.zeros((3, 600))
    rates[2] = 2.0 * time
    rates[2, 300:310] = np.nan
    felt, _ = Mounting(position=(0.0, 1.0, 0.0)).start().turn(time, np.zeros((3, 600)), rates)
    assert np.isnan(felt[0, 300:310]).all()
    np.testing.assert_allclose(felt[0, [299, 599]], 2.0, rtol=1e-9)
    # one step of 55 ms also catches up most of the usual lag, 5.3 ms less half a sample: 6 % too much, once
    assert felt[0, 310] == pytest.approx(2.0, rel=0.07)


def test_stamps_that_stand_still_do_no_harm() -> None:
    time = np.array([0.0, 0.01, 0.01, 0.02])
    felt, _ = Mounting(position=(0.0, 1.0, 0.0)).start().turn(time, np.zeros((3, 4)), np.ones((3, 4)) * [0.0, 0.1, 0.1, 0.2])
    assert np.isfinite(felt).all()
