"""Parquet files: columns of any type as numbers and text, row groups one after the other, memory that doesn't grow."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from numpy.typing import NDArray

from dualduty.errors import BadInput
from replay.formats import parquet_recording
from replay.formats.parquet_recording import open_parquet
from replay.open_recording import open_recording
from tests.replay.formats.made_up_files import write_parquet

UTC = dt.UTC
NOON = dt.datetime(2031, 5, 1, 12, tzinfo=UTC)
EPOCH = NOON.timestamp()


def column_of(folder: Path, values: Any, kind: Any) -> tuple[NDArray[np.float64], list[str | None], str]:
    """Numbers, texts and unit of a column written with one type."""
    pq.write_table(pa.table({"x": pa.array(values, type=kind)}), folder / "x.parquet")
    recording = open_parquet(folder / "x.parquet")
    (block,) = recording.blocks(0, ["x"], ["x"])
    return block.numbers["x"], block.texts["x"].tolist(), recording.groups[0].columns[0].unit


@pytest.mark.parametrize(
    ("kind", "values", "numbers", "texts"),
    [
        (pa.float64(), [1.5, None, float("nan")], [1.5, np.nan, np.nan], ["1.5", None, None]),
        (pa.float16(), [np.float16(1.5), None], [1.5, np.nan], ["1.5", None]),
        (pa.int64(), [2, None, -3], [2, np.nan, -3], ["2", None, "-3"]),
        (pa.uint8(), [2, 255], [2, 255], ["2", "255"]),
        (pa.bool_(), [True, None, False], [1, np.nan, 0], ["True", None, "False"]),
        (pa.decimal128(9, 3), [Decimal("1.125"), None], [1.125, np.nan], ["1.125", None]),
        (pa.string(), ["1.5", None, " n/a", "2"], [1.5, np.nan, np.nan, 2], ["1.5", None, None, "2"]),
        (pa.large_string(), ["7"], [7], ["7"]),
        (pa.dictionary(pa.int32(), pa.string()), ["3", None, "3"], [3, np.nan, 3], ["3", None, "3"]),
        (pa.null(), [None, None], [np.nan, np.nan], [None, None]),
        (pa.duration("ms"), [1500, None], [1.5, np.nan], ["0:00:01.500000", None]),
        (pa.time64("us"), [3_600_500_000], [3600.5], ["01:00:00.500000"]),
    ],
)  # fmt: skip
def test_types_of_columns(tmp_path: Path, kind: Any, values: Any, numbers: list[float], texts: list[str | None]) -> None:
    found, words, _ = column_of(tmp_path, values, kind)
    np.testing.assert_array_equal(found, numbers)
    assert words == texts


@pytest.mark.parametrize("step", ["s", "ms", "us", "ns"])
@pytest.mark.parametrize("zone", [None, "UTC"])
def test_dates_and_times_are_seconds_since_1970(tmp_path: Path, step: str, zone: str | None) -> None:
    values = [NOON, None, NOON + dt.timedelta(seconds=2)]
    found, _, unit = column_of(tmp_path, [v.replace(tzinfo=None) if v and not zone else v for v in values], pa.timestamp(step, tz=zone))
    np.testing.assert_array_equal(found, [EPOCH, np.nan, EPOCH + 2.0])
    assert unit == "s"


def test_dates_alone_are_seconds_too(tmp_path: Path) -> None:
    found, _, _ = column_of(tmp_path, [dt.date(1970, 1, 2)], pa.date32())
    assert found.tolist() == [86_400.0]


def test_nanoseconds_keep_what_a_second_of_today_leaves_room_for(tmp_path: Path) -> None:
    found, _, _ = column_of(tmp_path, [1_700_000_000_123_456_789], pa.timestamp("ns"))
    # spacing of doubles near 1.7e9 is 2.4e-7
    assert found[0] - 1_700_000_000 == pytest.approx(0.123456789, abs=1.2e-7)


def test_row_groups_follow_each_other_and_units_are_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(parquet_recording, "PART", 128)
    recording = open_recording(write_parquet(tmp_path / "run.parquet"))
    assert [(column.name, column.unit) for column in recording.groups[0].columns] == [
        ("time", "s"), ("travel", "mm"), ("acc [g]", "g"), ("mode", ""),
    ]  # fmt: skip
    blocks = list(recording.blocks(0, ["time", "acc [g]"], ["mode"]))
    np.testing.assert_array_equal(np.concatenate([block.lines for block in blocks]), np.arange(1000))
    np.testing.assert_array_equal(np.concatenate([block.numbers["time"] for block in blocks]), np.arange(1000) * 0.005)
    np.testing.assert_array_equal(np.concatenate([block.numbers["acc [g]"] for block in blocks]), np.arange(1000) % 7)
    assert [word for block in blocks for word in block.texts["mode"]] == 400 * ["patrol"] + 600 * ["dash"]
    assert blocks[-1].done == 1.0
    assert recording.facts["row groups"] == "4"


def test_only_columns_asked_for_are_read(tmp_path: Path) -> None:
    (block,) = open_recording(write_parquet(tmp_path / "run.parquet")).blocks(0, ["travel"])
    assert list(block.numbers) == ["travel"]


def test_a_word_where_a_number_is_wanted_names_the_sample(tmp_path: Path) -> None:
    pq.write_table(pa.table({"x": ["1", "2", "two"]}), tmp_path / "x.parquet")
    with pytest.raises(BadInput, match=r"x.parquet sample 2: column 'x': expected a number, came 'two'"):
        list(open_parquet(tmp_path / "x.parquet").blocks(0, ["x"]))


def test_lists_are_left_out_and_told(tmp_path: Path) -> None:
    pq.write_table(pa.table({"x": [1, 2], "many": [[1], [2, 3]]}), tmp_path / "x.parquet")
    recording = open_parquet(tmp_path / "x.parquet")
    assert recording.groups[0].names == ("x",)
    assert recording.facts["left out"] == "1 columns of lists or structures"


@pytest.mark.parametrize("cut", [5, 60, 0.5, 0.99])
def test_a_cut_off_file_is_one_line(tmp_path: Path, cut: float) -> None:
    path = write_parquet(tmp_path / "run.parquet")
    whole = path.read_bytes()
    path.write_bytes(whole[: int(cut if cut > 1 else cut * len(whole))])
    with pytest.raises(BadInput, match="can't be read as Parquet, it is damaged, cut off"):
        list(open_recording(path).blocks(0, ["time"]))
