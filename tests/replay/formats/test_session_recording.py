"""A folder as one session: what follows what, what runs beside, what is left aside, and places that name the file."""

from __future__ import annotations

import gzip
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from dualduty.errors import BadInput
from replay.channels.channel_map import TimeBase
from replay.open_recording import open_recording
from replay.recording import Recording
from tests.replay.formats.made_up_files import write_mdf, write_parquet

SECONDS = TimeBase(("t",))


def write(path: Path, start: float, count: int = 3, name: str = "a", step: float = 0.5) -> None:
    path.write_text(f"t,{name}\n" + "".join(f"{start + k * step},{k}\n" for k in range(count)), encoding="utf-8")


def stamps(recording: Recording, group: int = 0) -> NDArray[np.float64]:
    return np.concatenate([block.numbers["t"] for block in recording.blocks(group, ["t"])])


def test_a_clock_that_ran_through_is_kept_and_orders_the_files(tmp_path: Path) -> None:
    write(tmp_path / "b.csv", 100.0)
    write(tmp_path / "a.csv", 110.0)
    recording = open_recording(tmp_path, time=SECONDS)
    assert stamps(recording).tolist() == [100.0, 100.5, 101.0, 110.0, 110.5, 111.0]
    assert recording.opening == []
    assert [group.name for group in recording.groups] == [""]


def test_stamps_that_begin_anew_are_placed_after_a_pause_in_order_of_the_names(tmp_path: Path) -> None:
    for name, start in (("run_2.csv", 0.25), ("run_10.csv", 0.0), ("run_1.csv", 0.5)):
        write(tmp_path / name, start)
    recording = open_recording(tmp_path, time=SECONDS)
    np.testing.assert_allclose(stamps(recording), [0.5, 1.0, 1.5, 2.75, 3.25, 3.75, 4.75, 5.25, 5.75])
    assert [(notice.kind, notice.start, notice.text.split(":")[0]) for notice in recording.opening] == [
        ("file begins", 2.25, "run_2.csv begins at 2.250 s, after run_1.csv"),
        ("file begins", 4.25, "run_10.csv begins at 4.250 s, after run_2.csv"),
    ]


def test_a_pause_is_a_second_whatever_the_unit_of_the_stamps(tmp_path: Path) -> None:
    for name in ("1.csv", "2.csv"):
        write(tmp_path / name, 0.0, step=20.0)
    recording = open_recording(tmp_path, time=TimeBase(("t",), 1e-3))
    assert stamps(recording).tolist() == [0.0, 20.0, 40.0, 1040.0, 1060.0, 1080.0]


def test_other_columns_run_beside_and_files_that_begin_together_stay_together(tmp_path: Path) -> None:
    for part in (1, 2):
        write(tmp_path / f"fast_{part}.csv", 0.01, 5)
        write(tmp_path / f"slow_{part}.csv", 0.0, 9, "b")
    recording = open_recording(tmp_path, time=SECONDS)
    assert [group.name for group in recording.groups] == ["fast_1", "slow_1"]
    # the slow files end at 4 s; both second files have their zero a second later
    assert stamps(recording, 0)[5] == pytest.approx(5.01)
    assert stamps(recording, 1)[9] == 5.0


def test_places_name_the_file_and_its_own_line(tmp_path: Path) -> None:
    write(tmp_path / "1.csv", 0.0)
    write(tmp_path / "2.csv", 0.0)
    recording = open_recording(tmp_path, time=SECONDS)
    lines = np.concatenate([block.lines for block in recording.blocks(0, ["t"])])
    assert [recording.place(0, int(line)) for line in lines[[0, 2, 3, 5]]] == [
        f"{tmp_path / '1.csv'} line 2", f"{tmp_path / '1.csv'} line 4", f"{tmp_path / '2.csv'} line 2", f"{tmp_path / '2.csv'} line 4",
    ]  # fmt: skip
    (tmp_path / "2.csv").write_text("t,a\n0,1\n1,x\n", encoding="utf-8")
    with pytest.raises(BadInput, match=r"2.csv line 3: column 'a': expected a number, came 'x'"):
        list(open_recording(tmp_path, time=SECONDS).blocks(0, ["a"]))


def test_files_of_any_kind_join_and_others_are_left_aside(tmp_path: Path) -> None:
    write(tmp_path / "a.csv", 3.0)
    (tmp_path / "a.csv.gz").write_bytes(
        gzip.compress((tmp_path / "a.csv").read_bytes().replace(b"3.0", b"9.0").replace(b"3.5", b"9.5")[:16])
    )
    write_mdf(tmp_path / "bus.mf4")
    write_parquet(tmp_path / "imu.parquet")
    (tmp_path / "look.bin").write_bytes(b"\x89PNG\r\n\x1a\n")
    for name in ("run.toml", "a.marks.csv", "notes.txt", ".hidden.csv", "x.json", "x.png"):
        (tmp_path / name).write_bytes(b"not to be looked at \0")
    (tmp_path / "folder").mkdir()
    recording = open_recording(tmp_path, time=TimeBase(("t", "time")))
    assert [group.name for group in recording.groups] == ["a", "fast", "bus", "imu"]
    assert [notice.text for notice in recording.opening if notice.kind == "left aside"] == ["look.bin is no recording but a PNG picture"]
    assert recording.facts["format"] == "folder of 4 files"
    assert set(recording.digests) == {"log a.csv", "log a.csv.gz", "log bus.mf4", "log imu.parquet"}
    assert [block.stamps is None for block in recording.blocks(1, ["travel 0"])] == [False]


def test_what_was_noticed_in_a_file_names_it(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text("t,a\n0,1\n1,2\n2", encoding="utf-8")
    recording = open_recording(tmp_path, time=SECONDS)
    assert [notice.text.split(" left")[0] for notice in recording.opening] == ["a.csv: line 4"]


def test_files_without_stamps_are_joined_by_name(tmp_path: Path) -> None:
    for name in ("1.csv", "2.csv"):
        (tmp_path / name).write_text("a,b\n1,2\n3,4\n", encoding="utf-8")
    recording = open_recording(tmp_path, time=TimeBase(rate=100.0))
    assert [value for block in recording.blocks(0, ["a"]) for value in block.numbers["a"]] == [1, 3, 1, 3]
    assert [notice.kind for notice in recording.opening] == ["file joined"]


@pytest.mark.parametrize(
    ("files", "told"),
    [
        ({}, "holds no recording"),
        ({"a.csv": "t,a\n", "b.csv": "t,a\n"}, "the log is empty"),
        ({"a.csv": "t,a\n100,1\n200,1\n", "b.csv": "t,a\n150,1\n250,1\n"}, "b.csv: begins at 150, before a.csv ends at 200"),
        ({"a.csv": "t,a [mm]\n0,1\n", "b.csv": "t,a [mm]\n\n9,1,2,3\n"}, "b.csv line 3: 4 of 2 fields"),
        ({"a.csv": "t,a\ns,mm\n0,1\n", "b.csv": "t,a\ns,m\n1,1\n"}, "b.csv: column 'a' is in m, in a.csv it is in mm"),
    ],
)
def test_what_can_not_be_one_session_is_one_line(tmp_path: Path, files: dict[str, str], told: str) -> None:
    for name, text in files.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    with pytest.raises(BadInput) as caught:
        open_recording(tmp_path, time=SECONDS)
    assert told in str(caught.value)


def test_how_far_a_session_is_read_grows_to_one(tmp_path: Path) -> None:
    for part in range(4):
        write(tmp_path / f"{part}.csv", 0.0, 50)
    done = [block.done for block in open_recording(tmp_path, time=SECONDS).blocks(0, ["a"])]
    assert done == pytest.approx([0.25, 0.5, 0.75, 1.0])
