"""What people do with marks: name one, accept, reject, move, add, note."""

from __future__ import annotations

from pathlib import Path

import pytest

from dualduty.errors import BadInput
from replay.marks.mark import MARGIN, NOTE, Mark
from replay.marks.mark_edits import accept, add, find, move, note, propose, proposed, reject
from replay.marks.marks_file import MarksFile
from replay.marks.propose_marks import new_proposals

LINES = """state,start_s,end_s,corner_or_side,sure,who,note,origin,status
airborne,12.34,12.8,,yes,,,detector Airborne of marram baseline,proposed
airborne,12.5,12.6,,yes,AS,,,
wheel_off,3.2,3.4,rear_left,yes,,,offline,proposed
wheel_off,3.2,3.4,rear_right,yes,,,offline,proposed
landing,20,20.4,,yes,,,offline,rejected
"""


@pytest.fixture(name="file")
def a_file(tmp_path: Path) -> MarksFile:
    path = tmp_path / "run.marks.csv"
    path.write_text(LINES, encoding="utf-8")
    return MarksFile.read(path)


@pytest.mark.parametrize(
    ("name", "row"),
    [("airborne@12.34", 2), ("airborne@12.4", 2), ("airborne@12.43", 3), ("airborne@12.7 s", 3), ("wheel_off@3.25 rear-right", 5)],
)
def test_a_name_means_the_nearest_mark_of_its_state(file: MarksFile, name: str, row: int) -> None:
    assert find(file, name).row == row
    assert find(file, find(file, name).name).row == row


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("airborne@13", "airborne@13: no mark of this name within 0.25 s; near it: airborne@12.500, airborne@12.340"),
        ("brakin@12.4", "no mark of this name within 0.25 s; near it: airborne@12.340"),
        (
            "wheel_off@3.2",
            "may be several marks: wheel_off@3.200 rear_left in line 4, wheel_off@3.200 rear_right in line 5; name the place",
        ),
        ("airborne", "airborne: expected the name of a mark, state@seconds"),
        ("airborne@nan", "expected the name of a mark"),
        ("airborne@1.2.3", "expected the name of a mark"),
    ],
)
def test_a_name_that_means_none_or_several_is_one_line(file: MarksFile, name: str, told: str) -> None:
    with pytest.raises(BadInput) as caught:
        find(file, name)
    assert told in str(caught.value)
    assert "\n" not in str(caught.value)


def test_accepting_keeps_the_origin_and_says_who(file: MarksFile) -> None:
    mark = accept(file, [find(file, "airborne@12.34")], who="KR").marks[0]
    assert (mark.status, mark.who, mark.origin) == ("accepted", "KR", "detector Airborne of marram baseline")
    assert mark.counts
    assert not file.marks[0].counts


def test_judging_somebody_elses_mark_leaves_them_its_author(file: MarksFile) -> None:
    mark = reject(file, [find(file, "airborne@12.5")], who="KR").marks[1]
    assert (mark.status, mark.who, mark.note) == ("rejected", "AS", "rejected by KR")


def test_all_that_waits_is_what_was_proposed(file: MarksFile) -> None:
    assert [mark.row for mark in proposed(file)] == [2, 4, 5]
    assert [mark.row for mark in proposed(file, "wheel_off")] == [4, 5]


def test_a_moved_mark_says_what_was_moved_by_whom_and_keeps_its_origin(file: MarksFile) -> None:
    moved = move(file, find(file, "airborne@12.34"), start=12.32, who="KR").marks[0]
    assert (moved.start, moved.end) == (12.32, 12.8)
    assert (moved.origin, moved.note) == ("detector Airborne of marram baseline", "moved by KR: start from 12.34 s")
    again = move(file.with_changes({2: moved}), moved, start=12.3, end=12.9).marks[0]
    assert again.note == "moved by KR: start from 12.34 s; moved: start from 12.32 s, end from 12.8 s"


@pytest.mark.parametrize(
    ("edges", "told"), [((13.0, None), "isn't after its start"), ((12.34, 12.8), "came neither"), ((float("inf"), None), "seconds")]
)
def test_a_move_that_makes_no_mark_is_refused(file: MarksFile, edges: tuple[float, float | None], told: str) -> None:
    with pytest.raises(BadInput, match=told):
        move(file, file.marks[0], *edges)


@pytest.mark.parametrize(
    ("mark", "told"),
    [
        (Mark("landing", 2.0, 2.0), "isn't after its start"),
        (Mark("a@b", 1.0, 2.0), "expected the name of a state"),
        (Mark("# landing", 1.0, 2.0), "expected the name of a state"),
        (Mark("landing", 1.0, 2.0, where="middle"), "expected one of front, rear"),
        (Mark("landing", 1.0, 2.0, sure=1.2), "sure: expected 0 to 100 %"),
    ],
)
def test_a_mark_that_would_not_be_read_back_is_not_written(file: MarksFile, mark: Mark, told: str) -> None:
    with pytest.raises(BadInput, match=told):
        add(file, mark)


def test_a_note_is_a_moment_and_counts_for_nothing(file: MarksFile) -> None:
    add(file, note(14.2, "thud, rear right", "KR")).save()
    mark = MarksFile.read(file.path).marks[-1]
    assert (mark.state, mark.start, mark.end, mark.note, mark.who) == (NOTE, 14.2, 14.2, "thud, rear right", "KR")
    assert not mark.counts


def test_margins_of_its_own_win_over_the_rules() -> None:
    assert Mark("airborne", 1.0, 2.0).margins() == (MARGIN, MARGIN)
    assert Mark("airborne", 1.0, 2.0, start_margin=0.05).margins(0.03) == (0.05, 0.03)
    assert Mark("airborne", 1.0, 2.0, start_margin=0.0).margins() == (0.0, MARGIN)


@pytest.mark.parametrize(
    ("proposal", "known"),
    [
        (Mark("airborne", 12.33, 12.85), True),  # proposed before
        (Mark("landing", 20.1, 20.5), True),  # rejected
        (Mark("landing", 20.0, 20.9), True),  # held for longer than the mark that it covers
        (Mark("landing", 20.3, 20.8), False),  # shares less than half of either
        (Mark("landing", 21.0, 21.4), False),
        (Mark("braking", 20.0, 20.4), False),  # another state
        (Mark("wheel_off", 3.2, 3.4, "front_left"), False),  # another corner
        (Mark("wheel_off", 3.2, 3.4, "rear"), True),
        (Mark("wheel_off", 3.2, 3.4), True),
    ],
)
def test_what_is_known_is_not_proposed_again(file: MarksFile, proposal: Mark, *, known: bool) -> None:
    after, fresh = propose(file, [proposal])
    assert fresh == ([] if known else [Mark(**{**proposal.to_row(), "status": "proposed"})])
    assert (after is file) is known


def test_two_proposals_of_the_same_are_one() -> None:
    fresh = new_proposals([Mark("airborne", 1.02, 1.5, origin="offline"), Mark("airborne", 1.0, 1.5, origin="detector A of b")], [])
    assert [mark.origin for mark in fresh] == ["detector A of b"]
