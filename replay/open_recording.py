"""Opens a recording of any kind: which reader it takes is decided by what the file holds, not by its name."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from dualduty.errors import BadInput
from replay.formats import content
from replay.formats.file_form import FileForm
from replay.formats.packed_file import packed_file

if TYPE_CHECKING:
    from replay.channels.channel_map import TimeBase
    from replay.recording import Recording

DEFAULT_FORM = FileForm()


def open_recording(path: Path, form: FileForm = DEFAULT_FORM, *, time: TimeBase | None = None) -> Recording:
    """Open a file, plain or packed, or a folder of files as one session; BadInput when it is none that can be read.

    `form` is how text is laid out as far as that is known, `time` is what gives time: a folder's files are put in order by it.
    """
    if path.is_dir():
        from replay.formats.session_recording import open_session

        return open_session(path, lambda file: _open_file(file, form), time)
    return _open_file(path, form)


def _open_file(path: Path, form: FileForm) -> Recording:
    packed = packed_file(path)
    kind, looks_like = content.content_of(packed.beginning(content.FIRST))
    if kind == content.TEXT:
        from replay.formats.csv_recording import open_csv

        return open_csv(packed, form)
    if kind == content.PARQUET:
        from replay.formats.parquet_recording import open_parquet

        return open_parquet(packed)
    if kind == content.MDF:
        from replay.formats.mdf_recording import open_mdf

        return open_mdf(packed)
    if looks_like == "an empty file":
        raise BadInput(path, "the log is empty: expected a line of column names and rows of numbers")
    raise BadInput(
        path, f"expected a text file (CSV), a Parquet or an MDF file, plain or packed, or a folder of them; this is {looks_like}"
    )
