"""Smooth shapes."""

from __future__ import annotations

import numpy as np
import pytest

from plant.shapes import check_carried, on_side, rounded_ramp, smooth_plateau, trapezoid


def test_rounded_ramp_reaches_one_without_a_kink_at_its_foot() -> None:
    along = np.linspace(-1.0, 8.0, 9001)
    ramp = rounded_ramp(along, 6.0, 2.0)
    assert ramp[-1] == pytest.approx(1.0)
    assert np.abs(np.diff(ramp, 2)[along[1:-1] < 5.9]).max() < 1e-5 * np.abs(np.diff(ramp)).max() * 1e3
    assert not ramp[along <= 0].any()


def test_trapezoid() -> None:
    assert trapezoid(np.array([-1.0, 0.0, 1.0, 2.0, 5.0, 7.0, 8.0]), 2.0, 3.0, 4.0) == pytest.approx([0, 0, 0.5, 1, 1, 0.5, 0.25])


def test_smooth_plateau_is_level_at_its_ends_and_between() -> None:
    shape = smooth_plateau(np.array([-1.0, 0.0, 1.0, 2.0, 4.0, 5.0, 7.0, 9.0, 10.0]), 2.0, 3.0, 4.0)
    assert shape == pytest.approx([0, 0, 0.5, 1, 1, 1, 0.5, 0, 0], abs=1e-15)


def test_on_side_leaves_the_other_track_level_and_shares_no_memory() -> None:
    shape = np.array([0.0, 1.0])
    for side, both in (("left", ([0, 1], [0, 0])), ("right", ([0, 0], [0, 1])), ("both", ([0, 1], [0, 1]))):
        left, right = on_side(shape, side)
        assert (left.tolist(), right.tolist()) == both
        assert not np.shares_memory(left, right)


def test_what_a_grid_can_not_carry_is_refused() -> None:
    grid = 0.05 * np.arange(10.0)
    check_carried("edge", 0.05, grid, 1)
    with pytest.raises(ValueError, match="edge 40 mm is shorter than a grid step of 50 mm; lengthen it or make step_mm finer"):
        check_carried("edge", 0.04, grid, 1)
    with pytest.raises(ValueError, match="length 190 mm is shorter than 4 grid steps of 50 mm"):
        check_carried("length", 0.19, grid, 4)
