"""Marks files: read as written, wrong rows named with line and column, replaced as a whole."""

from __future__ import annotations

from pathlib import Path

import pytest

from dualduty.errors import BadInput, SeveralBadInputs
from replay.marks.marks import Mark, marks_path, read_marks, write_marks

HEADER = "state,start_s,end_s,corner_or_side,sure,who,note\n"
MARKS = [
    Mark("airborne", 1.25, 1.6, who="kmr", note='step-down, the "high" one', row=2),
    Mark("cornering_outer", 10.0, 12.5, where="left", sure=False, row=3),
]


def test_what_is_written_is_read_back(tmp_path: Path) -> None:
    path = marks_path(tmp_path / "run7.csv")
    write_marks(path, MARKS)
    assert path.name == "run7.marks.csv"
    assert read_marks(path) == MARKS
    assert path.read_text(encoding="utf-8").splitlines()[2] == "cornering_outer,10,12.5,left,no,,"


def test_a_line_break_in_a_note_does_not_make_two_rows(tmp_path: Path) -> None:
    write_marks(tmp_path / "m.csv", [Mark("landing", 0.0, 1.0, note="hard\nvery")])
    assert read_marks(tmp_path / "m.csv")[0].note == "hard very"


def test_columns_may_be_left_out_and_stand_in_any_order(tmp_path: Path) -> None:
    (tmp_path / "m.csv").write_text("# by hand\nend_s,start_s,state\n\n2.5,1,braking\n", encoding="utf-8")
    assert read_marks(tmp_path / "m.csv") == [Mark("braking", 1.0, 2.5, row=4)]


@pytest.mark.parametrize(
    ("row", "told"),
    [
        ("airborne,1,2,,yes,,", ""),
        (",1,2,,yes,,", "state: expected a name"),
        ("airborne,x,2,,yes,,", "start_s: expected seconds since the log's first stamp, came 'x'"),
        ("airborne,1,nan,,yes,,", "end_s: expected seconds"),
        ("airborne,2,1,,yes,,", "end_s: 1 isn't after start_s 2"),
        ("airborne,1,2,middle,yes,,", "corner_or_side: expected one of front, rear"),
        ("airborne,1,2,,maybe,,", "sure: expected yes, no or 0 to 100 %, came 'maybe'"),
        ("airborne,1,2,,yes", "expected 7 fields, came 5"),
    ],
)
def test_a_wrong_row_is_named(tmp_path: Path, row: str, told: str) -> None:
    path = tmp_path / "m.csv"
    path.write_text(HEADER + "braking,1,2,,,,\n" + row + "\n", encoding="utf-8")
    if not told:
        assert len(read_marks(path)) == 2
        return
    with pytest.raises(BadInput) as caught:
        read_marks(path)
    assert f"m.csv line 3: {told}" in str(caught.value)


def test_all_wrong_rows_come_at_once(tmp_path: Path) -> None:
    (tmp_path / "m.csv").write_text(HEADER + "airborne,2,1,,,,\nlanding,a,b,,,,\n", encoding="utf-8")
    with pytest.raises(SeveralBadInputs) as caught:
        read_marks(tmp_path / "m.csv")
    assert len(caught.value.problems) == 3


@pytest.mark.parametrize(
    ("header", "told"),
    [
        ("state,start,end_s", "unknown column 'start'; did you mean 'start_s'?"),
        ("state,start_s", "missing column end_s"),
        ("", "came nothing"),
    ],
)
def test_a_wrong_header_is_named(tmp_path: Path, header: str, told: str) -> None:
    (tmp_path / "m.csv").write_text(header + "\n", encoding="utf-8")
    with pytest.raises(BadInput, match=told.replace("?", r"\?")):
        read_marks(tmp_path / "m.csv")


def test_a_write_that_fails_leaves_the_old_file_and_nothing_beside_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "m.csv"
    write_marks(path, MARKS)

    def refuse(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", refuse)
    with pytest.raises(BadInput, match="can't be written: No space left on device"):
        write_marks(path, [])
    assert read_marks(path) == MARKS
    assert [entry.name for entry in tmp_path.iterdir()] == ["m.csv"]


def test_marks_lie_beside_a_log_of_any_kind(tmp_path: Path) -> None:
    (tmp_path / "session.2").mkdir()
    names = ("run7.csv", "run7.csv.gz", "run7.parquet", "run7.mf4", "run.7.csv", "session.2")
    wanted = ["run7", "run7", "run7", "run7", "run.7", "session.2"]
    assert [marks_path(tmp_path / name).name for name in names] == [f"{name}.marks.csv" for name in wanted]


def test_a_file_has_the_further_columns_only_where_a_mark_needs_them(tmp_path: Path) -> None:
    path = tmp_path / "m.csv"
    write_marks(path, [MARKS[0], Mark("landing", 2.0, 2.4, origin="offline", status="proposed", start_margin=0.05, row=3)])
    assert path.read_text(encoding="utf-8").splitlines() == [
        "state,start_s,end_s,corner_or_side,sure,who,note,origin,status,start_margin_ms,end_margin_ms",
        'airborne,1.25,1.6,,yes,kmr,"step-down, the ""high"" one",,accepted,,',
        "landing,2,2.4,,yes,,,offline,proposed,50,",
    ]
    assert read_marks(path) == [MARKS[0], Mark("landing", 2.0, 2.4, origin="offline", status="proposed", start_margin=0.05, row=3)]


@pytest.mark.parametrize(
    ("said", "sure"), [("yes", 1.0), ("no", 0.0), ("", 1.0), ("80 %", 0.8), ("80", 0.8), ("12.5%", 0.125), ("0", 0.0), ("100", 1.0)]
)
def test_how_sure_is_said_in_words_or_per_cent(tmp_path: Path, said: str, sure: float) -> None:
    (tmp_path / "m.csv").write_text(f"state,start_s,end_s,sure\nairborne,1,2,{said}\n", encoding="utf-8")
    (mark,) = read_marks(tmp_path / "m.csv")
    assert mark.sure == sure
    assert mark.counts is (sure >= 0.5)
