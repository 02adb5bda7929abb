"""Text files as loggers and spreadsheets write them: how each is laid out is found from the file itself."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from dualduty.errors import BadInput
from replay.formats import csv_recording, plain_text
from replay.formats.csv_recording import CsvRecording, open_csv
from replay.formats.file_form import FileForm

VALUES = ([0.0, 0.5, 1.0], [1.5, -2.25, 300.0])


def written(folder: Path, text: str, encoding: str = "utf-8", form: FileForm | None = None) -> CsvRecording:
    path = folder / "run.csv"
    path.write_bytes(text.encode(encoding))
    return open_csv(path, form)


def columns(recording: CsvRecording, *names: str) -> dict[str, NDArray[np.float64]]:
    blocks = list(recording.blocks(0, names))
    return {name: np.concatenate([block.numbers[name] for block in blocks]) for name in names}


def assert_read(recording: CsvRecording, time: str = "t", other: str = "a") -> None:
    found = columns(recording, time, other)
    np.testing.assert_array_equal(found[time], VALUES[0])
    np.testing.assert_array_equal(found[other], VALUES[1])


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize(
    "text",
    [
        "t,a\n0,1.5\n0.5,-2.25\n1,300\n",
        "t;a\n0;1,5\n0,5;-2,25\n1;300\n",
        "t\ta\n0\t1.5\n0.5\t-2.25\n1\t300\n",
        "t|a\n0|1.5\n0.5|-2.25\n1|300\n",
        "t      a\n0      1.5\n0.5  -2.25\n1      300\n",
        "   t      a\n   0    1,5\n 0,5  -2,25\n   1    300\n",
        "t, a\n0, 1.5\n0.5, -2.25\n1, 300",
        "t,a,\n0,1.5,\n0.5,-2.25,\n1,300,\n",
        "t,a\n0,1.5,\n0.5,-2.25,\n1,300,\n",
        '"t","a"\n"0","1.5"\n"0.5","-2.25"\n"1","300"\n',
        "t,a\n\n0,1.5\n\n0.5,-2.25\n1,300\n\n\n",
        "# a note, with a comma\n% and another\nt,a\n0,1.5\n0.5,-2.25\n1,300\n",
        "# t,a\n0,1.5\n0.5,-2.25\n1,300\n",
        "Some logger; version 2\nDate;01.02.2031\n\nt;a\n0;1,5\n0,5;-2,25\n1;300\n",
        "Some logger,,\nDate,2031-02-01,\nt,a,b\ns,V,-\n0,1.5,7\n0.5,-2.25,7\n1,300,7\n",
        "t;a;b\n[s];[mm/s];[]\nfloat;float;text\n0;1,5;on\n0,5;-2,25;on\n1;300;off\n",
        't,a,note\n0,1.5,"start, at the gate"\n0.5,-2.25,\n1,300,5" pipe\n',
    ],
)  # fmt: skip
def test_a_layout_is_found(tmp_path: Path, text: str, end: str) -> None:
    assert_read(written(tmp_path, text.replace("\n", end)))


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252", "latin-1"])
def test_an_encoding_is_found(tmp_path: Path, encoding: str) -> None:
    recording = written(tmp_path, "t;Größe [°/s]\n0;1,5\n0,5;-2,25\n1;300\n", encoding)
    assert_read(recording, other="Größe [°/s]")
    assert recording.groups[0].columns[1].unit == "°/s"
    assert [line for block in recording.blocks(0, ["t"]) for line in block.lines] == [2, 3, 4]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_line_ends_and_characters_may_lie_across_blocks(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, encoding: str, end: str) -> None:
    for block in (1, 2, 3, 7, 16):
        monkeypatch.setattr(plain_text, "BLOCK", block)
        recording = written(tmp_path, f"t;a°{end}0;1,5{end}0,5;-2,25{end}{end}1;300{end}", encoding)
        assert_read(recording, other="a°")
        assert [line for part in recording.blocks(0, ["t"]) for line in part.lines] == [2, 3, 5]


def test_units_come_from_a_row_below_the_names_or_from_brackets(tmp_path: Path) -> None:
    text = "time,speed,acc [m/s2],gyro (deg/s),wheel (FL),rpm\ns,km/h,,,,-\n0,1,2,3,4,5\n1,1,2,3,4,5\n"
    units = {column.name: column.unit for column in written(tmp_path, text).groups[0].columns}
    assert units == {"time": "s", "speed": "km/h", "acc [m/s2]": "m/s2", "gyro (deg/s)": "deg/s", "wheel (FL)": "", "rpm": ""}


def test_without_names_columns_are_counted(tmp_path: Path) -> None:
    recording = written(tmp_path, "0,1.5\n0.5,-2.25\n1,300\n")
    assert recording.groups[0].names == ("column 1", "column 2")
    assert_read(recording, "column 1", "column 2")


@pytest.mark.parametrize("word", ["NaN", "nan", "N/A", "n/a", "-", "--", "", " ", "inf", "-inf", "NULL", "None", " nan "])
def test_words_for_no_value_are_blanks(tmp_path: Path, word: str) -> None:
    found = columns(written(tmp_path, f"t,a\n0,1.5\n1,{word}\n2,3\n"), "a")["a"]
    np.testing.assert_array_equal(found, [1.5, np.nan, 3.0])


def test_dates_become_seconds_since_1970_and_clock_times_go_on_over_midnight(tmp_path: Path) -> None:
    text = (
        "t;clock;a\n2031-05-01T23:59:59.5+02:00;23:59:59,5;1\n2031-05-01T23:59:59.75+02:00;23:59:59,75;2\n"
        "2031-05-02 00:00:00.25+02:00;00:00:00,25;3\n"
    )
    recording = written(tmp_path, text)
    found = columns(recording, "t", "clock")
    midnight = np.datetime64("2031-05-01T22:00:00", "s").astype(np.int64)
    np.testing.assert_array_equal(found["t"], midnight + np.array([-0.5, -0.25, 0.25]))
    np.testing.assert_array_equal(found["clock"], 86_400 + np.array([-0.5, -0.25, 0.25]))
    assert recording.facts["column 't'"] == "date, read as seconds since 1970-01-01 UTC"
    assert [column.unit for column in recording.groups[0].columns] == ["s", "s", ""]


def test_decimal_commas_are_found_far_down(tmp_path: Path) -> None:
    text = "t;a\n" + "".join(f"{k};0\n" for k in range(30_000)) + "30000;0,5\n"
    assert columns(written(tmp_path, text), "a")["a"][-1] == 0.5


def test_what_the_form_says_is_not_looked_for(tmp_path: Path) -> None:
    text = "1;2\nx;y\n5;6\n0,5;7\n"
    recording = written(tmp_path, text, form=FileForm(";", True, "utf-8", 2, 1))
    assert recording.groups[0].names == ("x", "y")
    assert columns(recording, "x")["x"].tolist() == [0.5]


@pytest.mark.parametrize(
    ("tail", "left_out"),
    [
        (b"1.5,", "line 4 left out: 2 of 3 fields"), (b"1.5,2\n", "line 4 left out: 2 of 3 fields"),
        (b"\0" * 3000, "3000 zero bytes at the end left out"), (b"1.5,2,3\0\0", "line 4 and the 2 zero bytes at the end left out"),
        (b'1.5,"2,3', "line 4 left out: a quotation mark without its other"),
    ],
)  # fmt: skip
def test_an_end_cut_off_by_a_power_loss_is_left_out_and_told(tmp_path: Path, tail: bytes, left_out: str) -> None:
    (tmp_path / "run.csv").write_bytes(b"t,a,b\n0,1,2\n1,1,2\n" + tail)
    recording = open_csv(tmp_path / "run.csv")
    assert columns(recording, "t")["t"].tolist() == [0, 1]
    assert [notice.kind for notice in recording.opening] == ["cut line"]
    assert recording.opening[0].text.startswith(left_out)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (
            "t;a\n0;1,5\n1;1.234,5\n",
            "line 3: column 'a': expected a number without separators between thousands, decimal comma, came '1.234,5'",
        ),
        ("t;a\n0;1,5\n1;1.5\n", "line 2: column 'a': expected a number, came '1,5'"),
        (
            "t;a\n" + 300 * "0;1,5\n" + "1;1.5\n",
            "line 302: column 'a': expected a number without separators between thousands, decimal comma, came '1.5'",
        ),
        ("t;a\n0;1.5\n1;1,5\n", "line 3: column 'a': expected a number, came '1,5'"),
        ("t,a\n0,1\n1,TRUE\n", "line 3: column 'a': expected a number, came 'TRUE'"),
        ("t,a\n0,FALSE\n1,TRUE\n", "line 2: column 'a': expected a number, came 'FALSE'"),
        ("t,a\n0,2031-05-01\n1,2031-05-01\n2,01.05.2031\n", "line 4: column 'a': expected a date and time like 2031-05-01T12:03:04.250"),
        ("t,a\n0,1\n1\n2,3\n", "line 3: 1 of 2 fields: expected one field for each column of the header"),
        ("t,a\n0,1\n1,2,3,4\n", "line 3: 4 of 2 fields"),
        ("t a\n0 1\n1 2 3 4 5\n2 3\n", "line 3: 5 of 2 fields"),
        ('t,a\n0,1\n1,"2\n2,3\n', "line 3: the quotation marks of this line don't pair up"),
    ],
)  # fmt: skip
def test_what_is_refused_names_line_and_cell(tmp_path: Path, text: str, told: str) -> None:
    with pytest.raises(BadInput) as caught:
        columns(written(tmp_path, text), "t", "a")
    assert str(caught.value).startswith(f"{tmp_path / 'run.csv'} {told}")


def test_a_name_that_occurs_twice_is_nobodys_business_until_asked_for(tmp_path: Path) -> None:
    recording = written(tmp_path, "t,a,b,b\n0,1.5,7,8\n0.5,-2.25,7,8\n1,300,7,8\n")
    assert_read(recording)
    assert recording.groups[0].names.count("b") == 2


def test_words_are_read_as_text_with_none_for_blanks(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(csv_recording, "PART", 2)
    recording = written(tmp_path, 't,mode\n0,Dash\n1,\n2,"a, b"\n')
    assert [word for block in recording.blocks(0, ["t"], ["mode"]) for word in block.texts["mode"]] == ["Dash", None, "a, b"]


def test_blocks_tell_how_far_they_are(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(csv_recording, "PART", 50_000)
    recording = written(tmp_path, "t,a\n" + "".join(f"{k},{k}.25\n" for k in range(400_000)))
    done = [block.done for block in recording.blocks(0, ["a"])]
    assert len(done) == 8
    assert done == sorted(done)
    assert done[0] < 0.7
    assert done[-1] == 1.0
