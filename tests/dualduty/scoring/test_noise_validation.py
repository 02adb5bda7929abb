"""The noise band against tables of Student's t and against its own promise on data without any true change."""

from __future__ import annotations

from math import sqrt

import numpy as np
import pytest

from dualduty.scoring.noise import Scatter


@pytest.mark.validates("Student's t, two-sided 95 %: 12.706 (1 degree of freedom), 2.776 (4), 2.093 (19); any printed table")
@pytest.mark.parametrize(("degrees", "t"), [(1, 12.706), (4, 2.776), (19, 2.093)])
def test_one_cell_is_the_paired_t_interval(degrees: int, t: float) -> None:
    runs = degrees + 1
    # rel: four printed digits
    assert Scatter(2.0, degrees).half_width(runs, 1) == pytest.approx(t * 2.0 / sqrt(runs), rel=2e-4)


@pytest.mark.validates("Bonferroni: ten cells at 95 % are each held to 99.5 %: t(4) = 4.604 for 99 %, 5.598 for 99.5 %; printed tables")
def test_more_cells_make_a_wider_band() -> None:
    # rel: four printed digits
    assert Scatter(1.0, 4).half_width(1, 5) == pytest.approx(4.604, rel=2e-4)
    assert Scatter(1.0, 4).half_width(1, 10) == pytest.approx(5.598, rel=2e-4)


@pytest.mark.validates("law of chance: of 720 cells without a change, a single-cell interval calls 36, Bonferroni 0.05 a card")
def test_false_calls_on_a_card_without_a_change() -> None:
    random = np.random.default_rng(5)
    cells, runs, cards = 720, 6, 40
    differences = random.standard_normal((cards * cells, runs))
    in_deviations = np.abs(differences.mean(axis=1)) / differences.std(axis=1, ddof=1)  # a half-width grows with the deviation alone
    naive, allowed = ((in_deviations > Scatter(1.0, runs - 1).half_width(runs, looked)).sum() for looked in (1, cells))
    # binomial scatter of 28,800 calls at 5 %: standard deviation 37
    assert abs(naive - 0.05 * cards * cells) < 4 * 37
    assert allowed <= 8  # expected 2, standard deviation 1.4


@pytest.mark.validates("closed form: pooled variance, sum of degrees times variance over sum of degrees")
def test_pooling() -> None:
    pooled = Scatter.pooled([Scatter(1.0, 2), Scatter(3.0, 4)])
    assert pooled is not None
    assert pooled.degrees == 6
    assert pooled.deviation == pytest.approx(sqrt((2 * 1 + 4 * 9) / 6))
    assert Scatter.pooled([]) is None
    assert Scatter.of(np.array([1.0])) is None


@pytest.mark.validates("definition: the half-width at that many runs is within the difference, at one fewer it is not")
def test_runs_to_see_a_difference() -> None:
    scatter = Scatter(1.0, 2)
    runs = scatter.runs_to_see(0.5, 20)
    assert Scatter(1.0, runs - 1).half_width(runs, 20) <= 0.5 < Scatter(1.0, runs - 2).half_width(runs - 1, 20)
