"""A recorded run: which log, read through which channel map, with which marks, driven by which calibration."""

from __future__ import annotations

import difflib
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

from dualduty.errors import BadInput
from dualduty.toml_file import read_toml
from replay.channel_map_file import read_channel_map
from replay.csv_log import open_csv
from replay.log import Log

_KEYS: Final = ("log", "channel_map", "marks", "driven_by", "vehicle", "note", "provenance")


@dataclass(frozen=True)
class RunSheet:
    """What one run file says; paths are resolved against its folder, `marks` is None where there are none."""

    name: str
    log: Path
    channel_map: Path
    marks: Path | None
    driven_by: str
    vehicle: str
    note: str

    def open(self) -> Log:
        """The log, ready to be read in parts."""
        channel_map = read_channel_map(self.channel_map)
        return open_csv(self.log, replace(channel_map, driven_by=self.driven_by or channel_map.driven_by))


def read_run_sheet(path: Path) -> RunSheet:
    """Read a run file (TOML); BadInput says file, key, what was expected and what came."""
    document = read_toml(path)
    for key in document:
        if key not in _KEYS:
            near = difflib.get_close_matches(key, _KEYS, n=1)
            raise BadInput(
                f"{path}: {key}", "unknown key" + (f"; did you mean {near[0]!r}?" if near else f"; expected one of {', '.join(_KEYS)}")
            )
    texts = {key: _text(document, key, path) for key in _KEYS}
    marks = _file(path, "marks", texts) if texts["marks"] else None
    return RunSheet(
        name=path.stem, log=_file(path, "log", texts), channel_map=_file(path, "channel_map", texts), marks=marks,
        driven_by=texts["driven_by"], vehicle=texts["vehicle"], note=texts["note"],
    )  # fmt: skip


def _text(document: dict[str, Any], key: str, path: Path) -> str:
    value = document.get(key, "")
    if not isinstance(value, str):
        raise BadInput(f"{path}: {key}", f"expected a text, got {value!r}")
    return value


def _file(path: Path, key: str, texts: dict[str, str]) -> Path:
    if not texts[key]:
        raise BadInput(f"{path}: {key}", "expected the path of a file, the key is missing")
    found = path.parent / texts[key]
    if found.is_dir():
        raise BadInput(f"{path}: {key}", f"expected a file, {texts[key]!r} is a folder")
    if not found.is_file():
        near = difflib.get_close_matches(found.name, [p.name for p in found.parent.glob("*")] if found.parent.is_dir() else [], n=1)
        raise BadInput(
            f"{path}: {key}", f"expected a file, found none at {texts[key]!r}" + (f"; did you mean {near[0]!r}?" if near else "")
        )
    return found
