"""Packed files: read on the way, whatever the packing; damage and several members are one line, nothing stays behind."""

from __future__ import annotations

import bz2
import gc
import gzip
import lzma
import tempfile
import zipfile
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from dualduty.errors import BadInput
from replay.formats import packed_file
from replay.open_recording import open_recording
from tests.replay.formats.made_up_files import write_mdf, write_parquet


def zipped(data: bytes, folder: Path) -> bytes:
    with zipfile.ZipFile(folder / "z", "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("inside.csv", data)
    return (folder / "z").read_bytes()


PACKINGS: dict[str, Callable[[bytes, Path], bytes]] = {
    "gzip": lambda data, _: gzip.compress(data), "bzip2": lambda data, _: bz2.compress(data),
    "xz": lambda data, _: lzma.compress(data), "zip": zipped,
}  # fmt: skip
TEXT = ("t,a\n" + "".join(f"{k},{k * k}\n" for k in range(5000))).encode()


@pytest.fixture
def scratch(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[], list[Path]]:
    """Once called, temporary files go to a folder of their own; each call lists what is there."""
    folder = tmp_path / "scratch"

    def listed() -> list[Path]:
        folder.mkdir(exist_ok=True)
        monkeypatch.setattr(tempfile, "tempdir", str(folder))
        if any(folder.iterdir()):
            gc.collect()  # a tenth of a second
        return list(folder.iterdir())

    return listed


@pytest.mark.parametrize("packing", PACKINGS)
def test_text_is_unpacked_on_the_way(tmp_path: Path, packing: str, scratch: Callable[[], list[Path]]) -> None:
    path = tmp_path / "no_suffix_that_tells"
    path.write_bytes(PACKINGS[packing](TEXT, tmp_path))
    assert scratch() == []
    recording = open_recording(path)
    assert sum(float(block.numbers["a"].sum()) for block in recording.blocks(0, ["a"])) == sum(k * k for k in range(5000))
    assert recording.facts["format"].startswith(f"text, {packing}")
    assert scratch() == []


@pytest.mark.parametrize("packing", PACKINGS)
@pytest.mark.parametrize(("write", "name"), [(write_parquet, "travel"), (write_mdf, "travel 0")])
def test_other_files_are_unpacked_beside_and_taken_away(
    tmp_path: Path, packing: str, write: Callable[[Path], Path], name: str, scratch: Callable[[], list[Path]]
) -> None:
    plain = write(tmp_path / "plain.mf4")
    path = tmp_path / "packed"
    path.write_bytes(PACKINGS[packing](plain.read_bytes(), tmp_path))
    assert scratch() == []
    recording = open_recording(path)
    assert [file.name[:17] for file in scratch() if "unpacked" in file.name] == ["dualduty_unpacked"]
    values = np.concatenate([block.numbers[name] for block in recording.blocks(0, [name])])
    np.testing.assert_array_equal(values, np.concatenate([b.numbers[name] for b in open_recording(plain).blocks(0, [name])]))
    del recording
    assert scratch() == []


@pytest.mark.parametrize("packing", ["gzip", "bzip2", "xz", "zip"])
@pytest.mark.parametrize("write", [None, write_parquet, write_mdf])
def test_a_cut_off_archive_is_one_line_and_leaves_nothing(
    tmp_path: Path, packing: str, write: Callable[[Path], Path] | None, scratch: Callable[[], list[Path]]
) -> None:
    data = TEXT if write is None else write(tmp_path / "plain.mf4").read_bytes()
    whole = PACKINGS[packing](data, tmp_path)
    path = tmp_path / "cut"
    path.write_bytes(whole[: len(whole) * 2 // 3])
    assert scratch() == []
    with pytest.raises(BadInput, match=rf"the {packing} archive is damaged or cut off"):
        open_recording(path)
    assert scratch() == []


def test_a_zip_of_several_files_names_them(tmp_path: Path) -> None:
    path = tmp_path / "two.zip"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("folder/", b"")
        archive.writestr("folder/a.csv", TEXT)
        archive.writestr("b.csv", TEXT)
    with pytest.raises(BadInput, match=r"one recording, came 2 files: 'folder/a.csv', 'b.csv'"):
        open_recording(path)


def test_an_archive_that_never_ends_is_one_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(packed_file, "MOST_UNPACKED", 10_000)
    path = tmp_path / "bomb.gz"
    path.write_bytes(gzip.compress(TEXT))
    with pytest.raises(BadInput, match="unpacks to more than"):
        open_recording(path)


@pytest.mark.parametrize(
    ("content", "looks_like"),
    [
        (b"\x89PNG\r\n\x1a\n" + bytes(50), "a PNG picture"), (b"SQLite format 3\0" + bytes(99), "an SQLite database"),
        (bytes(range(256)), "binary data of unknown kind"), (b"\0" * 500, "nothing but zero bytes"),
        (gzip.compress(gzip.compress(TEXT)), "another gzip archive within"), (b"%PDF-1.7\n", "a PDF document"),
        (b"<!DOCTYPE html><p>", "a web page"), (b"PK\3\4 damaged", "the zip archive is damaged"),
    ],
)  # fmt: skip
def test_what_is_no_recording_is_told_by_its_looks(tmp_path: Path, content: bytes, looks_like: str) -> None:
    path = tmp_path / "run.csv"
    path.write_bytes(content)
    with pytest.raises(BadInput, match=looks_like):
        open_recording(path)


def test_an_empty_file_is_an_empty_log(tmp_path: Path) -> None:
    (tmp_path / "run.csv").touch()
    with pytest.raises(BadInput, match="the log is empty"):
        open_recording(tmp_path / "run.csv")
