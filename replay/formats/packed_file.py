"""A file that may be packed (gzip, bzip2, xz, zip): read as a stream, or unpacked into a temporary file that is removed again."""

from __future__ import annotations

import bz2
import gzip
import io
import lzma
import os
import shutil
import tempfile
import weakref
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO, Final

from dualduty.errors import BadInput

if TYPE_CHECKING:
    from _typeshed import WriteableBuffer

MOST_UNPACKED: Final = 64 * 1024**3  # bytes; our choice: ten hours of a hundred channels at 1 kHz as text are half of it
BLOCK: Final = 1 << 20
_PACKINGS: Final = ((b"\x1f\x8b", "gzip"), (b"BZh", "bzip2"), (b"\xfd7zXZ\0", "xz"), (b"PK\3\4", "zip"), (b"PK\5\6", "zip"))
_BROKEN: Final = (OSError, EOFError, zlib.error, lzma.LZMAError, zipfile.BadZipFile, RuntimeError, NotImplementedError, ValueError)
_SHOWN: Final = 6  # members told in a message


@dataclass(frozen=True)
class PackedFile:
    """A file and how it is packed: "" (not at all), gzip, bzip2, xz or zip; `member` is the one file within a zip archive."""

    path: Path
    packing: str = ""
    member: str = ""

    @property
    def told(self) -> str:
        """How it is packed, for people."""
        return f"{self.packing} ({self.member})" if self.member else self.packing

    @contextmanager
    def stream(self) -> Iterator[Unpacking]:
        """The content, unpacked on the way; whatever is wrong with the archive is BadInput."""
        with ExitStack() as held:
            with _said(self):
                raw = held.enter_context(self.path.open("rb"))
                source = held.enter_context(_opened(raw, self))
            yield Unpacking(source, raw, self)

    def beginning(self, size: int) -> bytes:
        """The first bytes of the content."""
        with self.stream() as content:
            return content.all_of(size)

    def on_disk(self, owner: Any) -> Path:
        """The content as a file: itself when it is not packed, else a temporary file that goes when `owner` does."""
        if not self.packing:
            return self.path
        handle, name = tempfile.mkstemp(prefix="dualduty_unpacked_")
        weakref.finalize(owner, _remove, name)
        with os.fdopen(handle, "wb") as target, self.stream() as content:
            shutil.copyfileobj(io.BufferedReader(content, BLOCK), target, BLOCK)
        return Path(name)


class Unpacking(io.RawIOBase):
    """The unpacked content as a stream of bytes; a damaged or endless archive is BadInput."""

    def __init__(self, source: BinaryIO, raw: BinaryIO, packed: PackedFile) -> None:
        super().__init__()
        self._source = source
        self._raw = raw
        self._packed = packed
        self._size = max(packed.path.stat().st_size, 1)
        self._given = 0

    def readable(self) -> bool:
        """Always."""
        return True

    def read(self, size: int = -1, /) -> bytes:
        """The next bytes, at most a block where no size is said; b"" at the end."""
        with _said(self._packed):
            data = self._source.read(size if size >= 0 else BLOCK)
        self._given += len(data)
        if self._given > MOST_UNPACKED and self._packed.packing:
            told = f"{MOST_UNPACKED / 1024**3:g} GiB"
            raise BadInput(self._packed.path, f"unpacks to more than {told}: expected a recording, not an archive that never ends")
        return data

    def readinto(self, buffer: WriteableBuffer, /) -> int:
        """Fill a buffer, maybe in part; 0 at the end."""
        target = memoryview(buffer)
        data = self.read(len(target))
        target[: len(data)] = data
        return len(data)

    def all_of(self, size: int) -> bytes:
        """As many bytes as asked for, fewer only at the end."""
        parts = []
        while size > 0 and (part := self.read(size)):
            parts.append(part)
            size -= len(part)
        return b"".join(parts)

    @property
    def share(self) -> float:
        """Share of the file on disk that has been read."""
        return 1.0 if self._raw.closed else min(1.0, self._raw.tell() / self._size)


def packed_file(path: Path) -> PackedFile:
    """How a file is packed, by its content; BadInput when it can't be read, or is a zip archive of several files."""
    if path.exists() and not path.is_file():
        raise BadInput(path, "can't be read: expected a file, or a folder of files")
    with _said(PackedFile(path)), path.open("rb") as raw:
        first = raw.read(8)
    packing = next((name for magic, name in _PACKINGS if first.startswith(magic)), "")
    return PackedFile(path, packing, _only_member(path) if packing == "zip" else "")


def _only_member(path: Path) -> str:
    with _said(PackedFile(path, "zip")), zipfile.ZipFile(path) as archive:
        names = [entry.filename for entry in archive.infolist() if not entry.is_dir()]
    if "[Content_Types].xml" in names:
        raise BadInput(path, "is an office document; expected a recording: save the sheet as CSV text")
    if len(names) != 1:
        shown = ", ".join(repr(name) for name in names[:_SHOWN]) + (" ..." if len(names) > _SHOWN else "")
        raise BadInput(path, f"expected a zip archive with one recording, came {len(names)} files{f': {shown}' if names else ''}")
    return names[0]


@contextmanager
def _opened(raw: BinaryIO, packed: PackedFile) -> Iterator[BinaryIO]:
    if packed.packing == "zip":
        with zipfile.ZipFile(raw) as archive, archive.open(packed.member) as member:
            yield member  # type: ignore[misc]
        return
    openers: dict[str, Any] = {"gzip": gzip.open, "bzip2": bz2.open, "xz": lzma.open}
    if packed.packing not in openers:
        yield raw
        return
    with openers[packed.packing](raw, "rb") as source:
        yield source


@contextmanager
def _said(packed: PackedFile) -> Iterator[None]:
    """What goes wrong while a file is read or unpacked, as one line."""
    try:
        yield
    except BadInput:
        raise
    except _BROKEN as error:
        if isinstance(error, OSError) and error.errno is not None:
            raise BadInput(packed.path, f"can't be read: {error.strerror or error}") from None
        if not packed.packing:
            raise
        raise BadInput(packed.path, f"the {packed.packing} archive is damaged or cut off: {error}") from None


def _remove(name: str) -> None:
    Path(name).unlink(missing_ok=True)
