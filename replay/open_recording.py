"""Open a recording of whatever format."""

from __future__ import annotations

from pathlib import Path

from replay.channel_map import TimeBase
from replay.file_form import FileForm
from replay.formats.csv_recording import open_csv
from replay.recording import Recording


def open_recording(path: Path, form: FileForm | None = None, *, time: TimeBase | None = None) -> Recording:
    """Open a recording; BadInput when it can't be read."""
    return open_csv(path, form or FileForm())
