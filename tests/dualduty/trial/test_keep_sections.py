"""Sections of a log: from a table, and from states."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from dualduty.errors import BadInput
from dualduty.trial.clock import DT
from dualduty.trial.keep_sections import KINDS, sections_of_states, sections_of_table, touched, where
from dualduty.trial.run_sheet import LogSection


def gates(**stretches: list[tuple[float, float]]) -> dict[str, NDArray[np.bool_]]:
    time = np.arange(round(60.0 / DT)) * DT
    return {
        state: np.any([(time >= start) & (time < end) for start, end in stretches.get(state, [(-1.0, -1.0)])], axis=0)
        for state in (kind.state for kind in KINDS)
    }


def names(**stretches: list[tuple[float, float]]) -> list[str]:
    return [section.name for section in sections_of_states(gates(**stretches))]


def test_they_are_numbered_by_kind_in_order_of_time() -> None:
    assert names(whoops=[(40.0, 44.0), (10.0, 14.0)], cornering=[(20.0, 23.0)]) == ["whoops-1", "corner-1", "whoops-2"]


def test_a_pause_belongs_to_the_section_and_a_short_one_is_none() -> None:
    assert names(whoops=[(10.0, 12.0), (13.0, 15.0)], airborne=[(30.0, 30.05)]) == ["whoops-1"]


def test_a_hop_among_whoops_belongs_to_the_whoops() -> None:
    found = sections_of_states(gates(whoops=[(10.0, 16.0)], airborne=[(12.0, 12.4), (30.0, 30.4)]))
    assert [section.name for section in found] == ["whoops-1", "flight-1"]
    assert found[0].start == pytest.approx(8.8)  # began before the detector was sure
    assert all(one.end <= following.start for one, following in pairwise(found))


def test_one_reaches_back_no_further_than_the_one_before() -> None:
    whoops, corner = sections_of_states(gates(whoops=[(10.0, 16.0)], cornering=[(16.02, 18.0)]))
    assert corner.start == pytest.approx(whoops.end)


def test_a_table_is_read_in_order_of_time(tmp_path: Path) -> None:
    path = tmp_path / "sections.csv"
    path.write_text("# by hand\nname,start_s,end_s\nberm,100.5,110\nwhoops-1,20,25.5\n\n", encoding="utf-8")
    assert sections_of_table(path) == (LogSection("whoops-1", 20.0, 25.5), LogSection("berm", 100.5, 110.0))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "expected rows of name,start_s,end_s"),
        ("name,start_s,end_s\nberm,ten,20\n", "line 2: start_s: expected a number of seconds, came 'ten'"),
        ("name,start_s\nberm,10\n", "expected the keys name, start_s, end_s"),
        ("name,start_s,end_s\nberm,20,10\n", "10 isn't after start_s 20"),
        ("name,start_s,end_s\na,0,10\nb,5,15\n", "expected 10 s or later"),
        ("name,start_s,end_s\na,0,10,11\n", "line 2: expected 3 fields, came 4"),
    ],
)
def test_a_bad_table_is_one_clear_line(text: str, says: str, tmp_path: Path) -> None:
    path = tmp_path / "sections.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(BadInput) as raised:
        sections_of_table(path)
    assert says in str(raised.value)
    assert str(path) in str(raised.value)
    assert len(str(raised.value).splitlines()) == 1


def test_a_table_that_is_not_there_is_one_clear_line(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="can't be read"):
        sections_of_table(tmp_path / "none.csv")


def test_what_a_time_and_a_stretch_belong_to() -> None:
    sections = (LogSection("a", 1.0, 2.0), LogSection("b", 2.0, 3.0))
    assert [section.name for section in touched(sections, 1.9, 2.1)] == ["a", "b"]
    assert [section.name for section in touched(sections, 3.0, 4.0)] == []
    assert (where(sections, 2.0), where(sections, 9.0)) == ("b", "between")
