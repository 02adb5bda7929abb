"""Files and folders are written whole or not at all, and never over what is somebody else's."""

from __future__ import annotations

import os
import pickle
from collections.abc import Callable
from contextlib import AbstractContextManager, suppress
from pathlib import Path

import pytest

from dualduty.errors import BadInput, SeveralBadInputs
from dualduty.files import RECORD, check_result_file, check_result_folder, result_folder, whole_file, whole_folder, write_text

Writer = Callable[[Path], AbstractContextManager[Path]]
WRITERS = [whole_file, whole_folder, result_folder]


def names(folder: Path) -> list[str]:
    """All that lies in a folder, hidden entries included."""
    return sorted(entry.name for entry in folder.iterdir())


def fill(folder: Path, name: str = "a.txt") -> None:
    """A result of one file."""
    with result_folder(folder) as draft:
        (draft / name).write_text(name, encoding="utf-8")


def test_a_text_is_utf_8_with_plain_line_ends_and_readable_by_all(tmp_path: Path) -> None:
    write_text(tmp_path / "new" / "a.txt", "grün\n")
    assert (tmp_path / "new" / "a.txt").read_bytes() == b"gr\xc3\xbcn\n"
    assert (tmp_path / "new" / "a.txt").stat().st_mode & 0o777 == 0o644 or os.name == "nt"
    assert names(tmp_path / "new") == ["a.txt"]


def test_the_old_file_stays_until_the_new_one_is_whole(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    path.write_text("old", encoding="utf-8")
    with suppress(RuntimeError), whole_file(path) as draft:
        draft.write_text("ne", encoding="utf-8")
        assert path.read_text(encoding="utf-8") == "old"
        raise RuntimeError
    assert path.read_text(encoding="utf-8") == "old"
    assert names(tmp_path) == ["a.txt"]


@pytest.mark.parametrize("error", [RuntimeError(), KeyboardInterrupt(), BadInput("x", "y")])
@pytest.mark.parametrize("writer", WRITERS)
def test_a_failure_leaves_nothing_not_even_the_folders_made_for_it(tmp_path: Path, writer: Writer, error: BaseException) -> None:
    with pytest.raises(type(error)), writer(tmp_path / "far" / "down" / "x"):
        raise error
    assert names(tmp_path) == []


def test_a_result_takes_the_place_of_an_older_one(tmp_path: Path) -> None:
    fill(tmp_path / "r", "old.txt")
    fill(tmp_path / "r", "new.txt")
    assert names(tmp_path / "r") == ["new.txt", RECORD]
    assert names(tmp_path) == ["r"]


def test_an_older_result_stays_when_the_new_one_fails(tmp_path: Path) -> None:
    fill(tmp_path / "r", "old.txt")
    with suppress(RuntimeError), result_folder(tmp_path / "r") as draft:
        (draft / "new.txt").write_text("x", encoding="utf-8")
        raise RuntimeError
    assert names(tmp_path / "r") == ["old.txt", RECORD]
    assert names(tmp_path) == ["r"]


def test_an_empty_folder_may_become_a_result(tmp_path: Path) -> None:
    (tmp_path / "r").mkdir()
    fill(tmp_path / "r")
    assert names(tmp_path / "r") == ["a.txt", RECORD]


def test_what_no_run_has_written_is_never_replaced(tmp_path: Path) -> None:
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "log.csv").write_text("a year of work", encoding="utf-8")
    with pytest.raises(BadInput, match=r"mine: holds what no run has written \(log\.csv\)"), result_folder(tmp_path / "mine"):
        pass
    assert names(tmp_path / "mine") == ["log.csv"]


def test_notes_added_to_a_result_are_not_lost(tmp_path: Path) -> None:
    fill(tmp_path / "r")
    (tmp_path / "r" / "notes.md").write_text("keep", encoding="utf-8")
    with pytest.raises(BadInput, match=r"no run has written \(notes\.md\)"):
        check_result_folder(tmp_path / "r")


@pytest.mark.parametrize("place", ["file", "file/below", "file/far/below"])
def test_a_file_in_the_way_is_named(tmp_path: Path, place: str) -> None:
    (tmp_path / "file").write_text("x", encoding="utf-8")
    with pytest.raises(BadInput, match=r"expected the name of a folder; .*file is a file"):
        check_result_folder(tmp_path / place)
    assert (tmp_path / "file").read_text(encoding="utf-8") == "x"


@pytest.mark.parametrize("writer", [whole_file, whole_folder])
def test_a_folder_can_not_be_made_below_a_file(tmp_path: Path, writer: Writer) -> None:
    (tmp_path / "file").write_text("x", encoding="utf-8")
    with pytest.raises(BadInput, match="can't be written"), writer(tmp_path / "file" / "below"):
        pass


def test_a_file_does_not_take_the_place_of_a_folder(tmp_path: Path) -> None:
    (tmp_path / "folder").mkdir()
    with pytest.raises(BadInput, match="this is a folder"):
        write_text(tmp_path / "folder", "x")


def test_a_new_folder_does_not_take_the_place_of_anything(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="exists already"), whole_folder(tmp_path):
        pass


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="nothing is read-only for an administrator")
@pytest.mark.parametrize("writer", WRITERS)
def test_a_read_only_folder_is_one_line(tmp_path: Path, writer: Writer) -> None:
    tmp_path.chmod(0o555)
    try:
        with pytest.raises(BadInput, match="can't be written: Permission denied"), writer(tmp_path / "x"):
            pass
    finally:
        tmp_path.chmod(0o755)


@pytest.mark.parametrize("writer", WRITERS)
def test_what_the_system_refuses_is_one_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, writer: Writer) -> None:
    def refuse(*_args: object, **_more: object) -> None:
        raise OSError(28, "No space left on device")

    for name in ("mkstemp", "mkdtemp"):
        monkeypatch.setattr(f"tempfile.{name}", refuse)
    with pytest.raises(BadInput, match="x: can't be written: No space left on device"), writer(tmp_path / "x"):
        pass


def test_a_refusal_comes_out_of_another_process_as_it_went_in() -> None:
    one, other = BadInput("a.toml: key", "= 9 Hz is above 5 Hz"), BadInput("", "no place")
    for problem in (one, other, SeveralBadInputs([one, other])):
        back = pickle.loads(pickle.dumps(problem))  # noqa: S301 - our own bytes
        assert (type(back), str(back), back.where, back.problem) == (type(problem), str(problem), problem.where, problem.problem)


@pytest.mark.parametrize("says", ["<testsuites", ""])
def test_a_result_file_takes_the_place_of_nothing_but_an_older_one(tmp_path: Path, says: str) -> None:
    check_result_file(tmp_path / "new" / "a.xml", says)
    assert names(tmp_path) == []
    (tmp_path / "log.csv").write_text("time_s\n0\n", encoding="utf-8")
    with pytest.raises(BadInput, match=r"expected .*the name of a new file"):
        check_result_file(tmp_path / "log.csv", says)
    with pytest.raises(BadInput, match="can't be written"):
        check_result_file(tmp_path / "log.csv" / "a.xml", says)
    with pytest.raises(BadInput, match="this is a folder"):
        check_result_file(tmp_path, says)
    (tmp_path / "old.xml").write_text("<?xml?>\n<testsuites />\n", encoding="utf-8")
    if says:
        check_result_file(tmp_path / "old.xml", says)
    else:
        with pytest.raises(BadInput, match="exists already"):
            check_result_file(tmp_path / "old.xml", says)
