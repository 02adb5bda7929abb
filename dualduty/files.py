"""Writing files whole or not at all."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from dualduty.errors import BadInput


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """A draft beside `path` that takes its place when the block ends well, and vanishes otherwise."""
    _make_folder(path.parent)
    try:
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=path.suffix)
    except OSError as error:
        raise BadInput(path, f"can't be written: {error.strerror}") from None
    os.close(handle)
    draft = Path(name)
    try:
        yield draft
        draft.chmod(0o644)
        draft.replace(path)
    except OSError as error:
        raise BadInput(path, f"can't be written: {error.strerror}") from None
    finally:
        draft.unlink(missing_ok=True)


@contextmanager
def whole_folder(path: Path) -> Iterator[Path]:
    """A draft folder beside `path` that takes its place, older contents included, when the block ends well."""
    _make_folder(path.parent)
    draft = Path(tempfile.mkdtemp(dir=path.parent, prefix=f".{path.name}."))
    try:
        yield draft
        draft.chmod(0o755)
        _swap(draft, path)
    finally:
        shutil.rmtree(draft, ignore_errors=True)


def _swap(draft: Path, path: Path) -> None:
    if not path.exists():
        draft.replace(path)
        return
    old = Path(tempfile.mkdtemp(dir=path.parent, prefix=f".{path.name}."))
    old.rmdir()
    path.replace(old)
    try:
        draft.replace(path)
    except OSError:
        old.replace(path)
        raise
    shutil.rmtree(old, ignore_errors=True)


def write_text(path: Path, text: str) -> None:
    """Write a text file whole, UTF-8, with plain line ends."""
    with whole_file(path) as draft:
        draft.write_text(text, encoding="utf-8", newline="\n")


def _make_folder(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise BadInput(folder, f"can't be made: {error.strerror}") from None
