"""CSV logs: what is read, what is a notice, and what is refused, each with file, line and what came."""

from __future__ import annotations

import tracemalloc
from pathlib import Path

import numpy as np
import pytest

from dualduty.errors import BadInput
from replay.formats import csv_recording, plain_text
from replay.log import Log, LogPart
from replay.open_log import open_log
from tests.replay.made_up_logs import MAP, frame, write_csv, write_map

ROW = "{t},1,2,3,4,1.0,5,0\n"
HEADER = "t,fl,fr,rl,rr,az,wz,mode\n"


def log_of(folder: Path, text: str, map_text: str = MAP) -> Log:
    path = folder / "run.csv"
    path.write_text(text, encoding="utf-8")
    return open_log(path, write_map(folder, map_text))


def rows(count: int, start: float = 0.0) -> str:
    return "".join(ROW.format(t=round(start + k * 0.01, 6)) for k in range(count))


def read(log: Log) -> list[LogPart]:
    """Parts that hold samples; the drive mode is their last row."""
    return [part for part in log.parts() if not part.ended]


def refusal(folder: Path, text: str, map_text: str = MAP) -> str:
    with pytest.raises(BadInput) as caught:
        read(log_of(folder, text, map_text))
    return str(caught.value).replace(str(folder), "").lstrip("/")


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_delimiter_preamble_byte_order_mark_and_line_ends(tmp_path: Path, separator: str) -> None:
    text = "\ufeff# driven by, nobody; twice\n# second\n\n" + (HEADER + rows(3)).replace(",", separator).replace("\n", "\r\n")
    log = log_of(tmp_path, text)
    (part,) = read(log)
    assert log.recording.facts["notes"] == "driven by, nobody; twice; second"
    np.testing.assert_allclose(part.time, [0, 0.01, 0.02], atol=1e-15)
    assert part.values[0].tolist() == [0.001] * 3
    assert part.lines.tolist() == [5, 6, 7]


def test_units_below_the_header_and_decimal_commas(tmp_path: Path) -> None:
    text = (HEADER + "s,mm,mm,mm,mm,g,deg/s,\n").replace(",", ";") + "0;1,5;2;3;4;1;5;0\n0,01;2;2;3;4;1;5;0\n"
    (part,) = read(log_of(tmp_path, text, MAP + "[file]\nlines_below_header = 1\ndecimal = ','\n"))
    np.testing.assert_allclose(part.values[0], [0.0015, 0.002], rtol=1e-15)
    assert part.lines.tolist() == [3, 4]


def test_a_fixed_rate_stands_in_for_a_time_column(tmp_path: Path) -> None:
    text = MAP.replace('[time]\ncolumn = "t"\nunit = "s"', "[time]\nrate_hz = 250")
    (part,) = read(log_of(tmp_path, HEADER + rows(4), text))
    assert part.time.tolist() == [0.0, 0.004, 0.008, 0.012]


def test_stamps_in_microseconds_since_long_ago(tmp_path: Path) -> None:
    stamps = "".join(f"{1_700_000_000_000_000 + k * 2000},1,2,3,4,1,5,0\n" for k in range(3))
    (part,) = read(log_of(tmp_path, HEADER + stamps, MAP.replace('unit = "s"', 'unit = "µs"')))
    np.testing.assert_allclose(part.time, [0, 0.002, 0.004], rtol=1e-12)


def test_drive_modes_may_be_words(tmp_path: Path) -> None:
    text = MAP.replace('{ 0 = "patrol", 1 = "dash" }', '{ P = "patrol", "D 2" = "dash" }')
    (part,) = read(log_of(tmp_path, HEADER + "0,1,2,3,4,1,5,P\n1,1,2,3,4,1,5,D 2\n", text))
    assert part.values[-1].tolist() == [0, 1]


def test_parts_join_to_the_same_log_whatever_their_size(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path, channel_map = write_csv(tmp_path, frame(500)), write_map(tmp_path)
    (whole,) = read(open_log(path, channel_map))
    monkeypatch.setattr(csv_recording, "PART", 37)
    parts = read(open_log(path, channel_map))
    assert len(parts) == 14
    np.testing.assert_array_equal(np.concatenate([part.values for part in parts], axis=1), whole.values)
    np.testing.assert_array_equal(np.concatenate([part.time for part in parts]), whole.time)
    np.testing.assert_array_equal(np.concatenate([part.lines for part in parts]), whole.lines)


def test_memory_does_not_grow_with_the_log(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(csv_recording, "PART", 500)
    monkeypatch.setattr(plain_text, "BLOCK", 1 << 14)
    channel_map = write_map(tmp_path)
    peaks = []
    for samples in (2_000, 20_000):
        log = open_log(write_csv(tmp_path, frame(samples)), channel_map)
        sum(len(part.time) for part in log.parts())  # what is loaded once is not the log
        tracemalloc.start()
        sum(len(part.time) for part in log.parts())
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
    assert peaks[1] < 1.5 * peaks[0], "ten times the log, measured 1.0 times the peak; half as much again for the collector"


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "run.csv: the log is empty"),
        ("# only a comment\n", "run.csv: the log is empty"),
        (HEADER, "run.csv: the log is empty: expected at least one row"),
        ("t,fl\n0,1\n", "run.csv: no column for drive mode: looked for 'mode'"),
        (HEADER + rows(2) + "0.02,1,2,x7,4,1,5,0\n", "run.csv line 4: column 'rl': expected a number, came 'x7'"),
        (HEADER + rows(2) + "0.02,1,2,3,True,1,5,0\n", "run.csv line 4: column 'rr': expected a number, came 'True'"),
        (HEADER + rows(2) + ",1,2,3,4,1,5,0\n", "run.csv line 4: time is blank or not a number"),
        (HEADER + ",1,2,3,4,1,5,0\n" + rows(2), "run.csv line 2: time is blank or not a number"),
        (HEADER + rows(1) + "0.01,1,2,3,4\n" + rows(1, 0.02), "run.csv line 3: 5 of 8 fields"),
        (HEADER + rows(1) + "0.01,1,2,3,4,5,6,0,8,9\n" + rows(1, 0.02), "run.csv line 3: 10 of 8 fields"),
        (HEADER + rows(2) + "70000,1,2,3,4,1,5,0\n", "run.csv line 4: time jumps by 70000 s"),
        (HEADER + rows(2) + "0.02,1,2,3,4,1,5,7\n", "run.csv line 4: drive mode '7' is not in /map.toml: mode.names"),
        (HEADER + "0,1,2,3,4,,5,0\n0.01,1,2,3,4,,5,0\n", "run.csv: column 'az' (specific_force_z) has no value in the whole log"),
        (HEADER.replace("\n", ",az\n") + "0,1,2,3,4,1,5,0,1\n", "run.csv: column 'az' occurs 2 times"),
        (HEADER + rows(2) + '0.02,1,2,3,4,"1,5,0\n0.03,1,2,3,4,1,5,0\n', "run.csv line 4: the quotation marks of this line don't pair up"),
        (HEADER + rows(2) + "0.02,1,2,3,4,1,5\0,0\n" + rows(1, 0.03), "run.csv line 4: holds zero bytes"),
        ("# " + 200 * "x" + "\nt,f\0l\n0,1\n", "run.csv line 2: holds zero bytes"),
        (HEADER + rows(2) + "0.02,1,2,3,4,1,5,0,7,7\n", "run.csv line 4: 10 of 8 fields"),
        (HEADER + rows(2) + '0.02,1,2,"1,000.5",4,1,5,0\n',
         "run.csv line 4: column 'rl': expected a number without separators between thousands, decimal point, came '1,000.5'"),
    ],
)  # fmt: skip
def test_what_is_refused_says_where_and_what_came(tmp_path: Path, text: str, told: str) -> None:
    assert refusal(tmp_path, text).startswith(told)


def test_a_file_that_is_not_there_is_one_line(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="can't be read"):
        open_log(tmp_path / "none.csv", write_map(tmp_path))


def test_text_far_down_is_found_across_parts(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(csv_recording, "PART", 10)
    text = HEADER + rows(35) + "0.35,1,2,3,4,1,five,0\n" + rows(30, 0.36)
    assert refusal(tmp_path, text) == "run.csv line 37: column 'wz': expected a number, came 'five'"


def test_columns_nobody_asked_for_may_hold_anything(tmp_path: Path) -> None:
    text = HEADER.replace("\n", ",comment\n") + "0,1,2,3,4,1,5,0,start\n0.01,1,2,3,4,1,5,0,\n"
    (part,) = read(log_of(tmp_path, text))
    assert part.time.tolist() == [0.0, 0.01]


def test_a_stretch_without_a_value_is_a_notice_with_start_end_and_channel(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    table = frame(100, dt=0.01)
    table.loc[20:44, "az"] = np.nan
    table.loc[90:, "fr"] = np.nan
    table.loc[50, "wz"] = np.inf
    for size in (1000, 7, 1):  # stretches that end with a part, go on through several, or fill them
        monkeypatch.setattr(csv_recording, "PART", size)
        log = open_log(write_csv(tmp_path, table), write_map(tmp_path))
        parts = list(log.parts())
        values = np.concatenate([part.values for part in parts], axis=1)
        told = {(n.kind, n.channel): (n.start, n.length) for n in log.notices}
        expected = {
            ("no value", "specific_force_z"): (0.2, 0.25),
            ("no value", "yaw_rate"): (0.5, 0.01),
            ("no value", "shaft_travel front_right"): (0.9, 0.09),
        }
        assert told.keys() == expected.keys()
        for key, interval in expected.items():
            assert told[key] == pytest.approx(interval)
        force = parts[0].rows.tolist().index(log.layout.rows["specific_force_z"].start)
        assert np.isnan(values[force, 20:45]).all()


def test_a_gap_is_a_notice_with_start_and_length(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for size in (1000, 30):
        monkeypatch.setattr(csv_recording, "PART", size)
        log = log_of(tmp_path, HEADER + rows(30) + rows(40, 5.0))
        read(log)
        (gap,) = log.notices
        assert gap.kind == "gap"
        assert [gap.start, gap.length] == pytest.approx([0.29, 4.71])
        assert gap.to_row()["text"].startswith("no sample for 4.710 s from 0.290 s")


def test_blanks_of_a_slow_channel_are_no_notice_while_they_are_bridged(tmp_path: Path) -> None:
    table = frame(100, dt=0.01)
    table.loc[np.arange(100) % 5 != 0, "az"] = np.nan
    text = MAP.replace('unit = "g"', 'unit = "g"\nbridge_ms = 60')
    log = open_log(write_csv(tmp_path, table), write_map(tmp_path, text))
    read(log)
    assert log.notices == []


def test_a_channel_without_a_value_that_is_not_needed_is_a_notice(tmp_path: Path) -> None:
    log = log_of(tmp_path, HEADER + "0,1,2,3,4,,5,0\n0.01,1,2,3,4,,5,0\n")
    list(log.parts(needed=("yaw_rate",)))
    assert any(notice.kind == "empty channel" for notice in log.notices)


def test_notices_are_counted_beyond_so_many(tmp_path: Path) -> None:
    table = frame(2400, dt=0.01)
    table.loc[np.arange(2400) % 2 == 0, "az"] = np.nan
    log = open_log(write_csv(tmp_path, table), write_map(tmp_path))
    read(log)
    assert len(log.notices) == 501
    assert log.notices[-1].text == "specific_force_z: 700 more, not told one by one"


def test_a_cut_end_is_left_out_and_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "run.csv"
    path.write_text(HEADER + rows(20) + "0.2,1,2,3", encoding="utf-8")
    for size in (1000, 20, 7):
        monkeypatch.setattr(csv_recording, "PART", size)
        log = open_log(path, write_map(tmp_path))
        assert sum(len(part.time) for part in log.parts()) == 20
        assert [notice.kind for notice in log.notices] == ["cut line"]


def test_blank_lines_are_no_samples(tmp_path: Path) -> None:
    log = log_of(tmp_path, HEADER + rows(2) + "\n" + rows(2, 0.02) + "\n\n")
    (part,) = read(log)
    assert part.lines.tolist() == [2, 3, 5, 6]
