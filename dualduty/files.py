"""Writing files and folders whole or not at all, and never over something that is somebody else's."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from dualduty.errors import BadInput

RECORD: Final = "written_by_dualduty.txt"  # names what a result folder holds; only such a folder is ever replaced
_SAID: Final = "# Written by dualduty. The next run into this folder replaces it whole, as long as it holds nothing else than:"

_BEGINNING: Final = 2000  # bytes of a file that say what it is


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """A draft beside `path` that takes its place when the block ends well, and vanishes otherwise."""
    with _said_as_bad_input(path), _parents(path):
        if path.is_dir():
            raise BadInput(path, "can't be written: expected the name of a file, this is a folder")
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name[:40]}.", suffix=path.suffix)
        os.close(handle)
        draft = Path(name)
        try:
            yield draft
            draft.chmod(0o644)
            draft.replace(path)
        finally:
            draft.unlink(missing_ok=True)


@contextmanager
def whole_folder(path: Path) -> Iterator[Path]:
    """A draft folder beside `path` that becomes the new folder `path` when the block ends well, and vanishes otherwise."""
    with _said_as_bad_input(path), _parents(path):
        if path.exists():
            raise BadInput(path, "exists already; expected the name of a new folder")
        with _draft_folder(path) as draft:
            yield draft
            draft.replace(path)


@contextmanager
def result_folder(path: Path) -> Iterator[Path]:
    """As `whole_folder`, but takes the place of what an earlier run left there."""
    check_result_folder(path)
    with _said_as_bad_input(path), _parents(path), _draft_folder(path) as draft:
        yield draft
        names = sorted(entry.name for entry in draft.iterdir())
        (draft / RECORD).write_text("\n".join([_SAID, *names]) + "\n", encoding="utf-8", newline="\n")
        _swap(draft, path)


def check_result_folder(path: Path) -> None:
    """BadInput when `path` can't become a result folder: a file, or a folder that holds what no run has written."""
    with _said_as_bad_input(path):
        for place in (path, *path.absolute().parents):
            if place.exists() and not place.is_dir():
                raise BadInput(path, f"expected the name of a folder; {place} is a file")
        held = {entry.name for entry in path.iterdir()} if path.is_dir() else set()
    strange = sorted(held - _recorded(path)) if held else []
    if strange:
        more = f" and {len(strange) - 1} more" if len(strange) > 1 else ""
        raise BadInput(
            path, f"holds what no run has written ({strange[0]}{more}) and is not replaced; expected a new folder, or an older result"
        )
    _check_writable(path)


def check_result_file(path: Path, says: str = "") -> None:
    """BadInput when `path` can't become a result file: a folder, or a file that isn't an older result, known by what it `says`.

    Without `says` nothing that exists is written over: a person may have gone on with it.
    """
    with _said_as_bad_input(path):
        if path.is_dir():
            raise BadInput(path, "can't be written: expected the name of a file, this is a folder")
        if path.exists() and not (says and says.encode() in path.read_bytes()[:_BEGINNING]):
            held = "holds what no run has written and is not replaced; expected an older result, or" if says else "exists already; expected"
            raise BadInput(path, f"{held} the name of a new file")
        file = next((place for place in path.absolute().parents if place.exists() and not place.is_dir()), None)
        if file is not None:
            raise BadInput(path, f"can't be written: {file} is a file, expected a folder")
    _check_writable(path)


def write_text(path: Path, text: str) -> None:
    """Write a text file whole, UTF-8, with plain line ends."""
    with whole_file(path) as draft:
        draft.write_text(text, encoding="utf-8", newline="\n")


def _recorded(path: Path) -> set[str]:
    try:
        lines = (path / RECORD).read_text(encoding="utf-8").splitlines()
    except (OSError, UnicodeDecodeError):
        return set()
    return {RECORD, *lines}


def _check_writable(path: Path) -> None:
    """Say before hours of work, not after, that nothing can be written there."""
    beside = next(place for place in path.absolute().parents if place.is_dir())
    with _said_as_bad_input(path), tempfile.TemporaryFile(dir=beside):
        pass


@contextmanager
def _draft_folder(path: Path) -> Iterator[Path]:
    draft = Path(tempfile.mkdtemp(dir=path.parent, prefix=f".{path.name[:40]}."))
    try:
        draft.chmod(0o755)  # a result is for others to read too
        yield draft
    finally:
        shutil.rmtree(draft, ignore_errors=True)


def _swap(draft: Path, path: Path) -> None:
    if not path.exists():
        draft.replace(path)
        return
    old = Path(tempfile.mkdtemp(dir=path.parent, prefix=f".{path.name[:40]}."))
    old.rmdir()
    path.replace(old)
    try:
        draft.replace(path)
    except OSError:
        old.replace(path)
        raise
    shutil.rmtree(old, ignore_errors=True)


@contextmanager
def _said_as_bad_input(path: Path) -> Iterator[None]:
    """A full disk, a read-only folder or a name that is too long: one line."""
    try:
        yield
    except OSError as error:
        raise BadInput(path, f"can't be written: {error.strerror or error}") from None


@contextmanager
def _parents(path: Path) -> Iterator[None]:
    """Make the folders above `path`, and take those away again in which nothing came to stand."""
    made = [folder for folder in path.absolute().parents if not folder.exists()]
    path.parent.mkdir(parents=True, exist_ok=True)
    try:
        yield
    except BaseException:
        for folder in made:
            _remove_empty(folder)
        raise


def _remove_empty(folder: Path) -> None:
    try:
        folder.rmdir()
    except OSError:  # somebody else uses it by now
        return
