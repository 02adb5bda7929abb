"""What kind of file something is, told by its first bytes and never by its name."""

from __future__ import annotations

from typing import Final

PARQUET: Final = "Parquet"
MDF: Final = "MDF"
TEXT: Final = "text"
FIRST: Final = 4096  # bytes looked at
_READ: Final = ((b"PAR1", PARQUET), (b"PARE", PARQUET), (b"MDF     ", MDF), (b"UnFinMF ", MDF))
_OTHERS: Final = (
    (b"\x89PNG", "a PNG picture"),
    (b"\xff\xd8\xff", "a JPEG picture"),
    (b"GIF8", "a GIF picture"),
    (b"RIFF", "a sound or film file"),
    (b"%PDF", "a PDF document"),
    (b"SQLite format 3\x00", "an SQLite database"),
    (b"\x89HDF\r\n", "an HDF5 file"),
    (b"\x93NUMPY", "a NumPy array"),
    (b"ARROW1", "an Arrow file; expected Parquet"),
    (b"(\xb5/\xfd", "a zstandard archive"),
    (b'\x04"M\x18', "an LZ4 archive"),
    (b"7z\xbc\xaf", "a 7-Zip archive"),
    (b"Rar!", "a RAR archive"),
    (b"\xd0\xcf\x11\xe0", "an office document"),
    (b"\x7fELF", "a program"),
    (b"MZ\x90", "a program"),
    (b"\x1f\x8b", "another gzip archive within"),
    (b"PK\x03\x04", "another zip archive within"),
    (b"BZh9", "another bzip2 archive within"),
    (b"\xfd7zXZ", "another xz archive within"),
    (b"<!DOCTYPE html", "a web page"),
    (b"<html", "a web page"),
    (b"<?xml", "an XML document"),
    (b"version https://git-lfs", "a pointer to a file that was not fetched"),
)
_TAR_AT: Final = slice(257, 262)
_CONTROLS: Final = bytes(code for code in range(32) if code not in b"\t\n\r\f\x1a\x1b")
_MOST_CONTROLS: Final = 0.02  # share of control characters that text may hold; our choice


def content_of(first: bytes) -> tuple[str, str]:
    """`(kind, "")` for what can be read, else `("", what it looks like)`; `first` are the first bytes, unpacked."""
    if not first:
        return "", "an empty file"
    known = next((kind for magic, kind in _READ if first.startswith(magic)), "")
    if known:
        return known, ""
    other = next((told for magic, told in _OTHERS if first.startswith(magic)), "")
    if other or first[_TAR_AT] == b"ustar":
        return "", other or "a tar archive"
    return (TEXT, "") if _is_text(first) else ("", _binary(first))


def _binary(first: bytes) -> str:
    return "binary data of unknown kind" if first.strip(b"\0") else "nothing but zero bytes: it was made and never written"


def _is_text(first: bytes) -> bool:
    if first.startswith((b"\xff\xfe", b"\xfe\xff")):
        return True
    for parity in (0, 1):
        zeros = first[parity::2].count(0)
        if zeros > 0.3 * len(first) / 2 and not first[1 - parity :: 2].count(0):
            return len(first) > 1
    plain = first.rstrip(b"\0")
    strange = len(plain) - len(plain.translate(None, _CONTROLS))
    return bool(plain) and strange <= _MOST_CONTROLS * len(plain)
