"""Numbers and sentences as people say them."""

from __future__ import annotations

from math import inf, nan
from typing import Any

import numpy as np
import pytest

from dualduty.report import words
from tests.dualduty.report import made_up_rows as made_up


@pytest.mark.parametrize(
    ("value", "said"),
    [
        (0.0, "0"), (-0.0, "0"), (2, "2"), (np.int64(7), "7"), (12.0, "12"), (1234.5, "1234"), (0.12345, "0.123"),
        (-3.456, "\N{MINUS SIGN}3.46"),
        (0.000123, "0.000123"), (1.5e-7, "1.50e\N{MINUS SIGN}07"), (2.5e9, "2.50e+09"), (nan, "\N{EN DASH}"), (None, "\N{EN DASH}"),
        (-inf, "\N{MINUS SIGN}∞"), ("soft", "soft"),
        (True, "yes"),
        (0.09996, "0.1"), (-0.00001, "\N{MINUS SIGN}1.00e\N{MINUS SIGN}05"),
    ],
)  # fmt: skip
def test_numbers_have_sensible_digits(value: Any, said: str) -> None:
    assert words.say_number(value) == said


def test_values_carry_their_unit_unless_they_are_counts_or_missing() -> None:
    assert words.say(3.2, "deg") == "3.2 deg"
    assert words.say(45.0, "km_h") == "45 km/h"
    assert words.say(3, "1") == "3"
    assert words.say(nan, "mm") == "\N{EN DASH}"
    assert words.say_signal("shaft_travel", 0.1234) == "123 mm"


@pytest.mark.parametrize(
    ("percent", "said"),
    [(12.4, "+12 %"), (-3.44, "\N{MINUS SIGN}3.4 %"), (9.96, "+10 %"), (0.01, "0 %"), (nan, "\N{EN DASH}"), (None, "\N{EN DASH}")],
)
def test_changes_carry_their_sign(percent: Any, said: str) -> None:
    assert words.say_change(percent) == said


def test_headline_says_what_got_worse_first_and_where_else() -> None:
    rows = [
        made_up.row(verdict="better", measure="settling", change_pct=-20.0),
        made_up.row(section="rough_corner", candidate=9.9, change_pct=209.0),
        made_up.row(),
        made_up.row(mode="haul", verdict="same"),
    ]
    told = words.headline(rows)
    assert told[0] == "4 cells compared: 1 better, 2 worse, 1 same."
    assert told[1] == "dash: worse on rough corner: roll angle 9.9 deg, was 3.2 deg (+209 %); also on whoops."
    assert told[2].startswith("dash: better on whoops: settling")
    assert len(told) == 3


def test_headline_says_that_nothing_got_worse_or_was_compared() -> None:
    assert words.headline([made_up.row(verdict="identical")]) == [
        "1 cell compared: 1 identical to the bit.",
        "Nothing got worse beyond the noise band.",
    ]
    assert words.headline([]) == ["Nothing was compared."]


def test_worst_first_counts_in_bands_not_in_per_cent() -> None:
    small_noise = made_up.row(measure="a", baseline=10.0, candidate=11.0, band=0.1, change_pct=10.0)
    large_noise = made_up.row(measure="b", baseline=10.0, candidate=15.0, band=5.0, change_pct=50.0)
    better = made_up.row(measure="c", verdict="better")
    assert [row["measure"] for row in words.worst_first([better, large_noise, small_noise])] == ["a", "b", "c"]


def test_can_not_tell_says_how_many_more_runs() -> None:
    assert words.remark(made_up.row(verdict="can't tell", more_runs=3, corner="rear-left")) == "rear-left; 3 more runs"
    assert words.remark(made_up.row(more_runs=3)) == ""
