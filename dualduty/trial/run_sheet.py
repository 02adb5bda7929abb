"""A recorded run: which log, read through which channel map, with which marks, driven by which calibration, over which sections."""

from __future__ import annotations

import difflib
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from typing import Any, Final

from dualduty.errors import BadInput
from dualduty.toml_file import read_toml
from replay.channels.channel_map_file import read_channel_map
from replay.log import Log
from replay.open_log import open_log

_TEXTS: Final = ("log", "channel_map", "marks", "driven_by", "calibration", "vehicle", "note", "provenance")
_KEYS: Final = (*_TEXTS, "marked", "sections")
_SECTION_KEYS: Final = ("name", "start_s", "end_s")


@dataclass(frozen=True)
class LogSection:
    """A stretch of a log by name, in seconds since the log's first stamp."""

    name: str
    start: float
    end: float


@dataclass(frozen=True)
class RunSheet:
    """What one run file says; paths are resolved against its folder.

    `log` is a file, or a folder whose files are one session. `marks` and `calibration` are None where none is named; `calibration` is
    the file of what drove, `driven_by` its name. `marked` are the states that somebody looked for all through the log; empty: all.
    """

    name: str
    log: Path
    channel_map: Path
    marks: Path | None
    driven_by: str
    vehicle: str
    note: str
    calibration: Path | None = None
    sections: tuple[LogSection, ...] = ()
    marked: tuple[str, ...] = ()

    def looked_for(self, state: str) -> bool:
        """Whether a detection of this state without a mark is a false one."""
        return not self.marked or state in self.marked

    def open(self) -> Log:
        """The log, ready to be read in parts."""
        channel_map = read_channel_map(self.channel_map)
        return open_log(self.log, replace(channel_map, driven_by=self.driven_by or channel_map.driven_by))


def read_run_sheet(path: Path) -> RunSheet:
    """Read a run file (TOML); BadInput says file, key, what was expected and what came."""
    document = read_toml(path)
    for key in document:
        if key not in _KEYS:
            near = difflib.get_close_matches(key, _KEYS, n=1)
            raise BadInput(
                f"{path}: {key}", "unknown key" + (f"; did you mean {near[0]!r}?" if near else f"; expected one of {', '.join(_KEYS)}")
            )
    texts = {key: _text(document, key, path) for key in _TEXTS}
    return RunSheet(
        name=path.stem, log=_file(path, "log", texts, folder_too=True), channel_map=_file(path, "channel_map", texts),
        marks=_file(path, "marks", texts) if texts["marks"] else None,
        driven_by=texts["driven_by"], vehicle=texts["vehicle"], note=texts["note"],
        calibration=_file(path, "calibration", texts) if texts["calibration"] else None,
        sections=read_sections(document.get("sections", []), f"{path}: sections"), marked=_names(document.get("marked", []), path),
    )  # fmt: skip


def read_sections(came: Any, place: str) -> tuple[LogSection, ...]:
    """Sections of a log as a list of tables, in order of time; BadInput says place, what was expected and what came."""
    if not isinstance(came, list):
        raise BadInput(place, f"expected a list of tables with {', '.join(_SECTION_KEYS)}, came {came!r}")
    sections = [_section(entry, f"{place}[{index}]") for index, entry in enumerate(came)]
    names = [section.name for section in sections]
    for index, name in enumerate(names):
        if name in names[:index]:
            raise BadInput(f"{place}[{index}].name", f"{name!r} is taken by an earlier one; number them, as {name}-2")
    for index, (one, following) in enumerate(pairwise(sections), start=1):
        if following.start < one.end:
            raise BadInput(
                f"{place}[{index}].start_s", f"expected {one.end:g} s or later, the end of {one.name!r}, came {following.start:g}"
            )
    return tuple(sections)


def _section(entry: Any, place: str) -> LogSection:
    if not isinstance(entry, dict) or sorted(entry) != sorted(_SECTION_KEYS):
        came = sorted(entry) if isinstance(entry, dict) else repr(entry)
        raise BadInput(place, f"expected the keys {', '.join(_SECTION_KEYS)}, came {came}")
    name, start, end = (entry[key] for key in _SECTION_KEYS)
    if not isinstance(name, str) or not name.strip():
        raise BadInput(f"{place}.name", f"expected a text, came {name!r}")
    for key, value in (("start_s", start), ("end_s", end)):
        if isinstance(value, bool) or not isinstance(value, int | float) or not 0 <= value < float("inf"):
            raise BadInput(f"{place}.{key}", f"expected seconds since the log's first stamp, came {value!r}")
    if end <= start:
        raise BadInput(f"{place}.end_s", f"{end:g} isn't after start_s {start:g}")
    return LogSection(name.strip(), float(start), float(end))


def _names(came: Any, path: Path) -> tuple[str, ...]:
    if not isinstance(came, list) or not all(isinstance(name, str) and name.strip() for name in came):
        raise BadInput(f"{path}: marked", f"expected a list of states that were looked for, came {came!r}")
    return tuple(dict.fromkeys(came))


def _text(document: dict[str, Any], key: str, path: Path) -> str:
    value = document.get(key, "")
    if not isinstance(value, str):
        raise BadInput(f"{path}: {key}", f"expected a text, got {value!r}")
    return value


def _file(path: Path, key: str, texts: dict[str, str], *, folder_too: bool = False) -> Path:
    if not texts[key]:
        raise BadInput(f"{path}: {key}", "expected the path of a file, the key is missing")
    found = path.parent / texts[key]
    if found.is_dir():
        if folder_too:
            return found
        raise BadInput(f"{path}: {key}", f"expected a file, {texts[key]!r} is a folder")
    if not found.is_file():
        near = difflib.get_close_matches(found.name, [p.name for p in found.parent.glob("*")] if found.parent.is_dir() else [], n=1)
        raise BadInput(
            f"{path}: {key}", f"expected a file, found none at {texts[key]!r}" + (f"; did you mean {near[0]!r}?" if near else "")
        )
    return found
