"""The text of a file as UTF-8 with plain line ends, whatever it was written in."""

from __future__ import annotations

import codecs
import io
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Final

from replay.formats.packed_file import BLOCK, PackedFile, Unpacking

if TYPE_CHECKING:
    from _typeshed import WriteableBuffer

_SAMPLE: Final = 1 << 16
_BOMS: Final = ((codecs.BOM_UTF8, "utf-8"), (codecs.BOM_UTF16_LE, "utf-16-le"), (codecs.BOM_UTF16_BE, "utf-16-be"))
_ZEROS_OF_UTF16: Final = 0.3  # share of zero bytes at one parity; text of our alphabet has one in every pair
WESTERN: Final = "cp1252"  # what is taken for text that is no UTF-8


class PlainText(io.RawIOBase):
    """UTF-8 bytes with line feeds only, up to `end` bytes of them (None: all)."""

    def __init__(self, source: Unpacking, encoding: str, end: int | None = None) -> None:
        super().__init__()
        self._source = source
        self._decoder = None if _is_utf8(encoding) else codecs.getincrementaldecoder(encoding)(errors="replace")
        self._left = end
        self._ready = b""
        self._at = 0
        self._return_waits = self._over = False
        self._at_start = True

    def readable(self) -> bool:
        """Always."""
        return True

    def read(self, size: int = -1, /) -> bytes:
        """The next bytes, at most as many as lie ready; b"" at the end."""
        while self._at == len(self._ready) and not self._over:
            self._ready, self._at = self._next(), 0
        most = len(self._ready) - self._at
        most = most if self._left is None else min(most, self._left)
        size = most if size < 0 else min(size, most)
        whole = size == len(self._ready) and not self._at
        data = self._ready if whole else self._ready[self._at : self._at + size]
        self._at += size
        self._left = None if self._left is None else self._left - size
        return data

    def readinto(self, buffer: WriteableBuffer, /) -> int:
        """Fill a buffer, maybe in part; 0 at the end."""
        target = memoryview(buffer)
        data = self.read(len(target))
        target[: len(data)] = data
        return len(data)

    @property
    def share(self) -> float:
        """Share of the file that has been read."""
        return self._source.share

    def _next(self) -> bytes:
        data = self._source.read(BLOCK) or b""
        self._over = not data
        if self._decoder is not None:
            data = self._decoder.decode(data, final=self._over).encode("utf-8", errors="replace")
        if self._at_start and data:
            self._at_start = False
            data = data.removeprefix(codecs.BOM_UTF8)
        return self._with_line_feeds(data)

    def _with_line_feeds(self, data: bytes) -> bytes:
        """CR LF and CR alone as LF; a CR at the end of a block waits for what follows."""
        if self._return_waits:
            data = b"\r" + data
        self._return_waits = data.endswith(b"\r") and not self._over
        if self._return_waits:
            data = data[:-1]
        return data.replace(b"\r\n", b"\n").replace(b"\r", b"\n") if b"\r" in data else data


@contextmanager
def plain_text(packed: PackedFile, encoding: str, end: int | None = None) -> Iterator[PlainText]:
    """A file's text from its beginning."""
    with packed.stream() as content:
        yield PlainText(content, encoding, end)


def encoding_of(packed: PackedFile) -> str:
    """How a text file is encoded: by its byte order mark, by its zero bytes, and by whether it can be UTF-8."""
    sample = packed.beginning(_SAMPLE)
    named = next((name for mark, name in _BOMS if sample.startswith(mark)), "")
    if named:
        return named
    for parity, name in ((1, "utf-16-le"), (0, "utf-16-be")):
        zeros, others = sample[parity::2].count(0), sample[1 - parity :: 2].count(0)
        if len(sample) > 1 and zeros > _ZEROS_OF_UTF16 * len(sample) / 2 and not others:
            return name
    try:
        codecs.getincrementaldecoder("utf-8")().decode(sample)
    except UnicodeDecodeError:
        return WESTERN
    return "utf-8"


def _is_utf8(encoding: str) -> bool:
    return codecs.lookup(encoding).name in ("utf-8", "utf-8-sig", "ascii")
