"""What a check says below its table: what is missed before what is false, and never a screenful of either."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from dualduty.trial.check_words import (
    MOST_CHANGED,
    MOST_FALSE,
    MOST_NAMED,
    MOST_NOTICED,
    comparison_lines,
    event_lines,
    noticed_lines,
    unmarked_lines,
)
from dualduty.trial.checked_log import CheckedLog
from dualduty.trial.run_sheet import RunSheet
from replay.check.comparison import Changed, Comparison
from replay.check.detector_check import check
from replay.check.result import Event
from replay.marks.mark import Mark
from replay.notice import Notice
from tests.replay.hand_made_trace import Active, trace_of


def log_of(active: Active, marks: list[Mark], states: tuple[str, ...] = ()) -> CheckedLog:
    sheet = RunSheet("pit", Path("pit.csv"), Path("map.toml"), None, "", "", "")
    trace = trace_of(active)
    return CheckedLog(sheet, trace, check(trace, marks, states=states), 200.0)


def often(count: int) -> list[tuple[float, float]]:
    return [(1.0 + index, 1.5 + index) for index in range(count)]


def test_a_missed_mark_is_told_before_many_false_ones_and_these_are_counted() -> None:
    log = log_of({"airborne": {0: []}, "braking": {0: often(9)}}, [Mark("airborne", 20.0, 20.5)], ("braking",))
    lines = event_lines(log.result)
    assert lines[0].startswith("missed: airborne ")
    assert len([line for line in lines if line.startswith("false: braking ")]) == MOST_FALSE
    assert lines[-1] == f"false: braking, {9 - MOST_FALSE} more"


def test_one_too_many_is_told_instead_of_counted_and_missed_ones_are_counted_at_last() -> None:
    log = log_of({"braking": {0: often(MOST_FALSE + 1)}}, [], ("braking",))
    assert len(event_lines(log.result)) == MOST_FALSE + 1
    marks = [Mark("airborne", start, end) for start, end in often(MOST_NAMED + 2)]
    assert event_lines(log_of({"airborne": {0: []}}, marks).result)[-1] == "missed or late: 2 more"


def test_a_state_that_nobody_marked_is_told_where_it_costs() -> None:
    active: Active = {"airborne": {0: [(1.0, 1.5)]}, "braking": {0: often(2)}, "landing": {0: []}}
    (line,) = unmarked_lines(log_of(active, [Mark("airborne", 1.0, 1.5)], ("braking", "landing")))
    assert line.startswith("nobody marked braking here")
    assert 'marked = ["airborne"] in the run file' in line
    assert unmarked_lines(log_of(active, [Mark("airborne", 1.0, 1.5)])) == []
    assert unmarked_lines(log_of(active, [], ("braking",))) == []  # a log of which nothing may be seen


def test_notices_are_few_and_stamps_counted() -> None:
    log = log_of({"airborne": {0: []}}, [])
    gaps = tuple(Notice("gap", "", float(index), 0.2, f"no sample from {index} s") for index in range(MOST_NOTICED + 1))
    assert len(noticed_lines(replace(log, notices=gaps))) == MOST_NOTICED + 1
    stamp = Notice("stamp", "", np.nan, 0.0, "pit.csv line 7: time stands still; set aside")
    lines = noticed_lines(replace(log, notices=(stamp, *gaps, *gaps)))
    assert lines[:MOST_NOTICED] == [str(gap) for gap in gaps[:MOST_NOTICED]]
    assert lines[MOST_NOTICED].startswith(f"{2 * len(gaps) - MOST_NOTICED} more; dualduty keep pit ")


def test_a_mark_that_was_seen_too_late_is_one_line() -> None:
    log = log_of({"airborne": {0: [(1.4, 1.5)]}}, [Mark("airborne", 1.0, 1.5, note="kicker"), Mark("airborne", 5.0, 5.5)])
    lines = event_lines(log.result)
    assert len(lines) == 2
    assert " ".join(lines[0].split()) == "missed: airborne at 1.00 s, seen 400 ms late kicker"
    assert "late" not in lines[1]


def test_every_lost_mark_is_named_and_of_the_rest_some() -> None:
    changed = tuple(
        Changed("pit", kind, Event("airborne", "", "missed", mark_start=float(at), mark_end=at + 0.5), 0.05)
        for kind in ("lost", "new false", "slower")
        for at in range(40)
    )
    lines = comparison_lines(Comparison("yesterday", changed, ()))
    counts = [sum(line.startswith(f"  {kind}: pit: ") for line in lines) for kind in ("lost", "new false", "slower")]
    assert counts == [40, MOST_NAMED, MOST_CHANGED]
    assert [f"  new false: {40 - MOST_NAMED} more", f"  slower: {40 - MOST_CHANGED} more"] == [
        line for line in lines if line.endswith(" more")
    ]
