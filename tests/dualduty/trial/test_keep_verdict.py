"""The verdict on a log: one line that says what to do, and why."""

from __future__ import annotations

import numpy as np
import pytest

from dualduty.trial.keep_verdict import verdict
from dualduty.trial.run_sheet import LogSection
from replay.health.finding import IMPAIRS, NOTE, SPOILS, Finding

SECTIONS = (LogSection("whoops-1", 10.0, 20.0), LogSection("whoops-2", 50.0, 60.0), LogSection("corner-1", 60.0, 66.0))
LASTS = 100.0


def finding(start: float, end: float, brief: str = "0.8 s dropout", severity: str = SPOILS, mend: str = "", sure: float = 0.99) -> Finding:
    return Finding("dropout", "rear-left travel", start, end, sure, severity, f"rear-left travel: {brief}", "", brief, "", mend)


def line(*findings: Finding) -> str:
    return verdict(findings, SECTIONS, LASTS).line


def test_nothing_found_is_usable() -> None:
    found = verdict([], SECTIONS, LASTS)
    assert (found.line, found.keep, found.lines) == ("usable", True, ["usable"])


@pytest.mark.parametrize("severity", [NOTE, IMPAIRS])
def test_what_does_not_spoil_costs_nothing(severity: str) -> None:
    assert line(finding(52.0, 52.8, severity=severity)) == "usable"


def test_what_is_not_sure_costs_nothing() -> None:
    assert line(finding(52.0, 52.8, sure=0.6)) == "usable"


def test_a_dropout_costs_its_section() -> None:
    assert line(finding(52.0, 52.8)) == "usable except section whoops-2: 0.8 s dropout"


def test_sections_are_joined_in_order_of_time_and_each_reason_told_once() -> None:
    found = (finding(59.0, 61.0, "2 s gap"), finding(12.0, 12.5, "0.5 s gap"), finding(13.0, 13.5, "0.5 s gap"))
    assert line(*found) == "usable except section whoops-1: 0.5 s gap; section whoops-2: 2 s gap; section corner-1: 2 s gap"


def test_a_stretch_between_sections_is_told_by_its_time() -> None:
    assert line(finding(30.0, 30.8)) == "usable except 30.00 to 30.80 s: 0.8 s dropout"


def test_many_places_are_counted() -> None:
    assert line(*(finding(at, at + 0.5, "0.5 s gap") for at in range(21, 48, 3))).endswith("; and 5 more places")


def test_one_place_too_many_is_told_as_well() -> None:
    told = line(*(finding(at, at + 0.5, "0.5 s gap") for at in range(21, 36, 3)))
    assert told.endswith("33.00 to 33.50 s: 0.5 s gap")


def test_what_a_map_mends_costs_nothing_and_is_told_beneath() -> None:
    whole = finding(np.nan, np.nan, "rear-left travel inverted", mend="sign = -1")
    found = verdict([whole, finding(52.0, 52.8)], SECTIONS, LASTS)
    assert found.lines == ["usable except section whoops-2: 0.8 s dropout", "once the map is put right: rear-left travel inverted"]
    assert found.keep


def test_a_channel_that_is_dead_means_again() -> None:
    found = verdict([finding(np.nan, np.nan, "no value in the whole log")], SECTIONS, LASTS)
    assert found.line == "run again: rear-left travel: no value in the whole log"
    assert not found.keep


def test_half_the_log_lost_means_again() -> None:
    assert verdict([finding(20.0, 69.0, "49 s stuck")], SECTIONS, LASTS).keep  # 46 s and what is left of no section
    found = verdict([finding(15.0, 75.0, "60 s stuck")], SECTIONS, LASTS)
    assert found.line == "run again: 65 % of the log is spoiled: rear-left travel: 60 s stuck"  # whoops-1 goes with it
