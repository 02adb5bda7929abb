"""MDF files: groups with clocks of their own, conversions, words, what is invalid, packed blocks, names that occur again."""

from __future__ import annotations

import gc
import tempfile
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from dualduty.errors import BadInput
from replay.formats import mdf_recording
from replay.formats.mdf_recording import MdfRecording, open_mdf
from replay.open_recording import open_recording
from tests.replay.formats.made_up_files import mdf_signal, save_mdf, write_mdf

pytest.importorskip("asammdf")

TIME = np.arange(6) * 0.1
COUNTS = np.arange(6, dtype=np.uint8)


def joined(recording: MdfRecording, group: int, name: str) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Stamps and values of one channel."""
    blocks = list(recording.blocks(group, [name]))
    stamps = [block.stamps for block in blocks if block.stamps is not None]
    return np.concatenate(stamps), np.concatenate([block.numbers[name] for block in blocks])


def converted(folder: Path, conversion: dict[str, Any], values: Any = COUNTS) -> tuple[list[float], list[str | None]]:
    """Numbers and words of a channel with a conversion."""
    path = save_mdf(folder / "run.mf4", [("", [mdf_signal(values, TIME[: len(values)], "x", conversion=conversion)])])
    (block,) = open_mdf(path).blocks(0, ["x"], ["x"])
    return block.numbers["x"].tolist(), block.texts["x"].tolist()


@pytest.mark.parametrize("compression", [0, 1, 2])
@pytest.mark.parametrize("version", ["4.10", "4.20", "3.30"])
def test_each_group_has_its_own_clock(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, compression: int, version: str) -> None:
    monkeypatch.setattr(mdf_recording, "FRAGMENT", 2000)
    recording = open_mdf(write_mdf(tmp_path / "run.mf4", compression=compression, version=version))
    names = ["fast", "bus"] if version.startswith("4") else ["group 1", "group 2"]  # MDF 3 has no names of groups
    assert [group.name for group in recording.groups] == names
    stamps, travel = joined(recording, 0, "travel 1")
    np.testing.assert_allclose(stamps, np.arange(400) * 0.005 + 3.0, rtol=1e-15)
    np.testing.assert_allclose(travel, np.sin(stamps + 1) * 100, rtol=1e-12)
    slow, speed = joined(recording, 1, "speed")
    np.testing.assert_allclose(speed, 2 * (np.arange(40) * 0.05 + 3.001), rtol=1e-15)
    assert len(slow) == 40
    assert [column.unit for column in recording.groups[1].columns] == ["", "km/h"]
    assert len(list(recording.blocks(0, ["travel 0"]))) > 1


def test_linear_rational_algebraic_and_table_conversions(tmp_path: Path) -> None:
    x = COUNTS.astype(float)
    assert converted(tmp_path, {"a": 0.5, "b": -1.0})[0] == (0.5 * x - 1).tolist()
    rational = {"P1": 0.0, "P2": 2.0, "P3": 1.0, "P4": 0.0, "P5": 0.5, "P6": 4.0}
    np.testing.assert_allclose(converted(tmp_path, rational)[0], (2 * x + 1) / (0.5 * x + 4), rtol=1e-15)
    np.testing.assert_allclose(converted(tmp_path, {"formula": "X * X + 3"})[0], x**2 + 3, rtol=1e-15)
    table = {"raw_0": 0, "phys_0": 0, "raw_1": 5, "phys_1": 50, "interpolation": True}
    np.testing.assert_allclose(converted(tmp_path, table)[0], 10 * x, rtol=1e-15)


def test_words_are_text_and_their_number_where_one_is_wanted(tmp_path: Path) -> None:
    table = {"val_0": 0, "text_0": "patrol", "val_1": 1, "text_1": "dash", "default": b""}
    numbers, words = converted(tmp_path, table, np.array([0, 1, 1, 7], dtype=np.uint8))
    assert numbers == [0, 1, 1, 7]
    assert words == ["patrol", "dash", "dash", "7"]


def test_text_channels(tmp_path: Path) -> None:
    path = save_mdf(tmp_path / "run.mf4", [("", [mdf_signal(np.array([b"dash", b"", b"1.5"]), TIME[:3], "x", encoding="utf-8")])])
    recording = open_mdf(path)
    (block,) = recording.blocks(0, [], ["x"])
    assert block.texts["x"].tolist() == ["dash", None, "1.5"]
    with pytest.raises(BadInput, match=r"run.mf4 sample 0: channel 'x': expected a number, came 'dash'"):
        list(recording.blocks(0, ["x"]))


def test_invalid_samples_are_blanks_and_stay_in_their_place(tmp_path: Path) -> None:
    invalid = np.array([False, True, False, False, True, False])
    signals = [mdf_signal(COUNTS, TIME, "x", invalidation_bits=invalid), mdf_signal(COUNTS, TIME, "y")]
    recording = open_mdf(save_mdf(tmp_path / "run.mf4", [("", signals)]))
    (block,) = recording.blocks(0, ["x", "y"], ["x"])
    np.testing.assert_array_equal(block.numbers["x"], [0, np.nan, 2, 3, np.nan, 5])
    np.testing.assert_array_equal(block.numbers["y"], COUNTS)
    assert block.texts["x"].tolist() == ["0", None, "2", "3", None, "5"]


def test_group_names_that_occur_again_are_counted_and_missing_ones_made(tmp_path: Path) -> None:
    groups = [(name, [mdf_signal(COUNTS, TIME, "x")]) for name in ("bus", "bus", "", "bus")]
    recording = open_mdf(save_mdf(tmp_path / "run.mf4", groups))
    assert [group.name for group in recording.groups] == ["bus", "bus 2", "group 3", "bus 3"]
    assert recording.place(1, 4) == f"{tmp_path / 'run.mf4'} group 'bus 2' sample 4"


def test_a_lone_group_has_no_name_and_facts_say_what_the_file_is(tmp_path: Path) -> None:
    recording = open_recording(save_mdf(tmp_path / "named.csv", [("bus", [mdf_signal(COUNTS, TIME, "x")])]))
    assert [group.name for group in recording.groups] == [""]
    assert recording.facts["format"] == "MDF 4.10"
    assert "start" in recording.facts


@pytest.mark.parametrize("cut", [70, 300, 0.5, 0.9])
def test_a_cut_off_file_is_one_line(tmp_path: Path, cut: float) -> None:
    path = write_mdf(tmp_path / "run.mf4", samples=4000)
    whole = path.read_bytes()
    path.write_bytes(whole[: int(cut if cut > 1 else cut * len(whole))])
    with pytest.raises(BadInput) as caught:
        list(open_recording(path).blocks(0, ["travel 0"]))
    assert str(caught.value).startswith(f"{path}: ")
    assert "\n" not in str(caught.value)


def test_fewer_samples_than_the_file_says_are_one_line(tmp_path: Path) -> None:
    recording = open_mdf(write_mdf(tmp_path / "run.mf4"))
    recording.file.groups[0].channel_group.cycles_nr += 5
    with pytest.raises(BadInput, match="is cut off: 400 of 405 samples of group 1 are there"):
        list(recording.blocks(0, ["travel 0"]))


@pytest.mark.parametrize("flags", [1, 255])
@pytest.mark.parametrize("cut", [0, 400, 3000])
def test_a_file_that_was_not_closed_is_left_as_it_is_and_nothing_stays_behind(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, flags: int, cut: int
) -> None:
    whole = bytearray(write_mdf(tmp_path / "run.mf4").read_bytes())
    whole[:8], whole[60] = b"UnFinMF ", flags  # ASAM MDF 4.1, identification block: file identifier and flags of what is not finished
    path = tmp_path / "run.mf4"
    path.write_bytes(whole[: len(whole) - cut])
    scratch = tmp_path / "scratch"
    scratch.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(scratch))
    if cut:
        with pytest.raises(BadInput, match="damaged, cut off"):
            open_recording(path)
    else:
        assert sum(len(block.lines) for block in open_recording(path).blocks(0, ["travel 0"])) == 400
    if any(scratch.iterdir()):
        gc.collect()
    assert list(scratch.iterdir()) == []
    assert path.read_bytes() == whole[: len(whole) - cut]
