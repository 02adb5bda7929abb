"""A marks file that people keep: what is changed is written anew, every other line stays to the byte; wrong files end in clear lines."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dualduty.errors import BadInput, SeveralBadInputs
from replay.marks.mark import REJECTED, STATUSES, Mark
from replay.marks.mark_row import ALL_COLUMNS, cells_of, line_of
from replay.marks.marks import read_marks
from replay.marks.marks_file import MarksFile

TEXT = st.text(st.characters(exclude_categories=("Cs", "Cc", "Zl", "Zp", "Zs")), max_size=12)
TIMES = st.integers(0, 4_000_000_000).map(lambda microseconds: microseconds / 1e6)
MARGINS = st.none() | st.integers(0, 500_000).map(lambda microseconds: microseconds / 1e6)


@st.composite
def a_mark(draw: st.DrawFn) -> Mark:
    start, length = draw(TIMES), draw(st.integers(1, 60_000_000)) / 1e6
    return Mark(
        draw(st.sampled_from(["airborne", "wheel_off", "landing", "watched"])), start, round(start + length, 6),
        draw(st.sampled_from(["", "left", "rear_right"])), draw(st.integers(0, 10_000)) / 1e4, draw(TEXT), draw(TEXT), draw(TEXT),
        draw(st.sampled_from(STATUSES)), draw(MARGINS), draw(MARGINS),
    )  # fmt: skip


@st.composite
def a_file(draw: st.DrawFn) -> tuple[bytes, list[Mark]]:
    """As people keep one: columns in any order, comments and blank lines anywhere, either kind of line end, with or without BOM."""
    columns = draw(st.permutations(ALL_COLUMNS))
    marks = draw(st.lists(a_mark(), min_size=1, max_size=5))
    end = draw(st.sampled_from(["\n", "\r\n"]))
    between = st.lists(st.sampled_from(["# by hand, mostly", "", "  ", "#"]), max_size=2)
    lines = [*draw(between), ",".join(columns)]
    for mark in marks:
        lines += [*draw(between), line_of([cells_of(mark)[name] for name in columns])]
    text = end.join([*lines, *draw(between)]) + draw(st.sampled_from(["", end]))
    return draw(st.sampled_from([b"", b"\xef\xbb\xbf"])) + text.encode(), marks


@settings(max_examples=60)
@given(a_file(), a_mark(), a_mark(), st.data())
def test_an_edit_keeps_every_other_line_to_the_byte(
    tmp_path_factory: pytest.TempPathFactory, given_file: tuple[bytes, list[Mark]], changed: Mark, added: Mark, data: st.DataObject
) -> None:
    content, marks = given_file
    path = tmp_path_factory.mktemp("m") / "run.marks.csv"
    path.write_bytes(content)
    file = MarksFile.read(path)
    assert [_bare(mark) for mark in file.marks] == marks
    chosen = data.draw(st.sampled_from(file.marks))
    file.with_changes({chosen.row: changed}, [added]).save()
    before, after = content.splitlines(keepends=True), path.read_bytes().splitlines(keepends=True)
    assert len(after) == len(before) + 1
    ending = b"\r\n" if b"\r\n" in content else b"\n"
    for number, (old, new) in enumerate(zip(before, after, strict=False), start=1):
        if number != chosen.row:
            assert new == (old if old.endswith(b"\n") else old + ending)
    expected = [changed if mark.row == chosen.row else _bare(mark) for mark in file.marks]
    assert [_bare(mark) for mark in read_marks(path)] == [*expected, added]
    assert [mark.row for mark in read_marks(path)] == [*(mark.row for mark in file.marks), len(after)]


def _bare(mark: Mark) -> Mark:
    return Mark(**{**mark.to_row(), "row": 0})


SEVEN = "# kept by hand\nstate,start_s,end_s,corner_or_side,sure,who,note\nairborne,1.50,2,,yes,KR,kicker\nlanding,2,2.4,,,KR,\n"


def test_a_file_of_seven_columns_gains_what_an_edit_needs_and_its_rows_stay(tmp_path: Path) -> None:
    path = tmp_path / "old.marks.csv"
    path.write_text(SEVEN, encoding="utf-8")
    file = MarksFile.read(path)
    file.with_changes({4: Mark("landing", 2.0, 2.4, who="KR", status=REJECTED, row=4)}).save()
    assert path.read_text(encoding="utf-8").splitlines() == [
        "# kept by hand",
        "state,start_s,end_s,corner_or_side,sure,who,note,status",
        "airborne,1.50,2,,yes,KR,kicker",
        "landing,2,2.4,,yes,KR,,rejected",
    ]
    assert [mark.status for mark in read_marks(path)] == ["accepted", "rejected"]


def test_three_columns_become_more_only_where_a_row_would_else_be_short(tmp_path: Path) -> None:
    path = tmp_path / "three.marks.csv"
    path.write_text("end_s,start_s,state\n2.50,1,braking\n4,3,braking\n", encoding="utf-8")
    MarksFile.read(path).with_changes({}, [Mark("braking", 5.0, 6.0, who="AS")]).save()
    assert path.read_text(encoding="utf-8").splitlines() == ["end_s,start_s,state,who", "2.50,1,braking,", "4,3,braking,", "6,5,braking,AS"]
    assert [mark.who for mark in read_marks(path)] == ["", "", "AS"]


def test_a_file_that_somebody_changed_meanwhile_is_not_written_over(tmp_path: Path) -> None:
    path = tmp_path / "run.marks.csv"
    path.write_text(SEVEN, encoding="utf-8")
    file = MarksFile.read(path)
    path.write_text(SEVEN + "braking,5,6,,,AS,\n", encoding="utf-8")
    with pytest.raises(BadInput, match=r"run\.marks\.csv: has been changed by someone else since it was read; nothing was written"):
        file.with_changes({}, [Mark("airborne", 7.0, 8.0)]).save()
    assert path.read_text(encoding="utf-8").endswith("braking,5,6,,,AS,\n")
    assert [entry.name for entry in tmp_path.iterdir()] == ["run.marks.csv"]


def test_a_file_that_came_or_went_meanwhile_is_left_alone(tmp_path: Path) -> None:
    fresh = MarksFile.read_or_new(tmp_path / "new.marks.csv").with_changes({}, [Mark("airborne", 7.0, 8.0)])
    (tmp_path / "new.marks.csv").write_text(SEVEN, encoding="utf-8")
    with pytest.raises(BadInput, match="has been changed by someone else"):
        fresh.save()
    file = MarksFile.read(tmp_path / "new.marks.csv")
    (tmp_path / "new.marks.csv").unlink()
    with pytest.raises(BadInput, match="has been changed by someone else"):
        file.save()


def test_what_was_saved_can_be_changed_and_saved_again(tmp_path: Path) -> None:
    path = tmp_path / "new.marks.csv"
    file = MarksFile.read_or_new(path).with_changes({}, [Mark("airborne", 7.0, 8.0)]).save()
    file.with_changes({2: Mark("airborne", 7.1, 8.0, row=2)}).save()
    assert read_marks(path) == [Mark("airborne", 7.1, 8.0, row=2)]


@pytest.mark.parametrize(
    ("row", "told"),
    [
        ("airborne,1,2,,0.8,,,,,,", "sure: expected yes, no or 0 to 100 %, came '0.8'; did you mean 80 %?"),
        ("airborne,1,2,,120 %,,,,,,", "sure: expected yes, no or 0 to 100 %, came '120 %'"),
        ("airborne,1,2,,,,,,maybe,,", "status: expected one of proposed, accepted, rejected or nothing, came 'maybe'"),
        ("airborne,1,2,,,,,,,-5,", "start_margin_ms: expected milliseconds, 0 or more, came '-5'"),
        ("airborne,1,2,,,,,,,,wide", "end_margin_ms: expected milliseconds, 0 or more, came 'wide'"),
        ("airborne,1,1,,,,,,,,", "end_s: 1 isn't after start_s 1"),
        ("note,2,1,,,,,,,,", "end_s: 1 isn't after start_s 2"),
        ("airborne,1,2,,,", "expected 11 fields, came 6"),
        ("airborne,1,2,,,,,,,,,,", "expected 11 fields, came 13"),
        ('airborne,1,2,,,KR,"half a note', "expected fields with commas between them: unexpected end of data"),
    ],
)
def test_a_wrong_row_is_one_line(tmp_path: Path, row: str, told: str) -> None:
    path = tmp_path / "m.csv"
    path.write_text(",".join(ALL_COLUMNS) + "\nbraking,1,2\n".replace("1,2", "1,2,,,,") + row + "\n", encoding="utf-8")
    with pytest.raises(BadInput) as caught:
        read_marks(path)
    assert str(caught.value) == f"{path} line 3: {told}"


@settings(max_examples=200)
@given(st.text(st.sampled_from('airborne,note,1.2e9%#"\n\r\t \0\u2028-yes;state'), max_size=80))
def test_any_text_ends_in_marks_or_in_clear_lines(tmp_path_factory: pytest.TempPathFactory, text: str) -> None:
    path = tmp_path_factory.mktemp("m") / "any.csv"
    path.write_bytes(b"state,start_s,end_s,sure,who\n" + text.encode())
    try:
        marks = read_marks(path)
    except BadInput as problem:
        several = problem.problems if isinstance(problem, SeveralBadInputs) else [problem]
        assert all(str(path) in str(one) and "\n" not in str(one) for one in several)
    else:
        assert all(mark.end >= mark.start and mark.state for mark in marks)


@pytest.mark.parametrize("word", ["# not a comment", "#", '# "quoted", with a comma'])
def test_a_note_that_comes_first_and_looks_like_a_comment_is_none(tmp_path: Path, word: str) -> None:
    path = tmp_path / "m.csv"
    path.write_text("note,state,start_s,end_s\n", encoding="utf-8")
    MarksFile.read(path).with_changes({}, [Mark("landing", 1.0, 2.0, note=word)]).save()
    assert [mark.note for mark in read_marks(path)] == [word]


def test_bytes_that_are_no_text_are_told(tmp_path: Path) -> None:
    (tmp_path / "m.csv").write_bytes(b"state,start_s,end_s\n\xff\xfe,1,2\n")
    with pytest.raises(BadInput, match=r"m\.csv: expected UTF-8 text"):
        read_marks(tmp_path / "m.csv")
