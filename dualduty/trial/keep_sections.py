"""Sections of a log, for the question what of it can be kept: from its run file, from a table, or found by detectors."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.calibration.model import Calibration
from dualduty.discovery import PlugIns
from dualduty.errors import BadInput
from dualduty.trial.clock import DT, Progress
from dualduty.trial.run_sheet import LogSection, read_sections
from dualduty.truth_gates import bridged, kept, stretches
from replay.log import Log
from replay.open_loop import replay
from strategies.detections import Detections

Gate = NDArray[np.bool_]
BETWEEN: Final = "between"


@dataclass(frozen=True)
class Kind:
    """A kind of section found by a detector: pauses up to `pause` belong to it, it lasts `least`, and began `before` it was sure. [s]"""

    name: str
    state: str
    pause: float
    least: float
    before: float


# The first takes precedence where two overlap: a hop among whoops belongs to the whoops. Our choice.
KINDS: Final = (
    Kind("whoops", "whoops", 1.5, 1.0, 1.2),
    Kind("corrugation", "corrugation", 1.5, 1.0, 1.0),
    Kind("flight", "airborne", 0.1, 0.12, 0.1),
    Kind("corner", "cornering", 0.5, 0.5, 0.1),
    Kind("braking", "braking", 0.5, 0.3, 0.05),
)


def sections_of_table(path: Path) -> tuple[LogSection, ...]:
    """Sections of a CSV file with the columns name, start_s, end_s; BadInput with its place."""
    import csv

    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            table = csv.DictReader(line for line in file if line.strip() and not line.startswith("#"))
            rows = [(table.line_num, row) for row in table]
    except (OSError, UnicodeDecodeError) as error:
        raise BadInput(path, f"can't be read: {getattr(error, 'strerror', None) or error}") from None
    if not rows:
        raise BadInput(path, "expected rows of name,start_s,end_s below a header, found none")
    for line, row in rows:
        more = row.get(None)  # where the reader puts what has no header
        if more:
            raise BadInput(f"{path} line {line}", f"expected {len(row) - 1} fields, came {len(row) - 1 + len(more)}")
    entries = [{key: _number(path, line, key, said) for key, said in row.items() if key} for line, row in rows]
    return read_sections(sorted(entries, key=lambda entry: str(entry.get("start_s")).zfill(20)), str(path))


def _number(path: Path, line: int, key: str, said: str | list[str] | None) -> str | float:
    if key == "name":
        return str(said)
    try:
        return float(str(said))
    except ValueError:
        raise BadInput(f"{path} line {line}: {key}", f"expected a number of seconds, came {said!r}") from None


def sections_by_detectors(
    log: Log, calibration: Calibration, plug_ins: PlugIns, progress: Progress | None = None
) -> tuple[LogSection, ...]:
    """Stretches in which the detectors of a calibration are open, numbered by kind in order of time; BadInput where they can't run."""
    states = [kind.state for kind in KINDS if any(kind.state in _given(plug_ins, name) for name in calibration.suppliers)]
    looking = Detections([calibration], [0], plug_ins, DT, states=states)
    chunks = [chunk.states for chunk in replay(log, looking, progress=progress, keep_signals=False)]
    opened = {name: np.concatenate([chunk[name][0, :, 0] for chunk in chunks]) > 0.5 for name in states}  # noqa: PLR2004 - 0 or 1
    return sections_of_states(opened)


def _given(plug_ins: PlugIns, name: str) -> tuple[str, ...]:
    return tuple(given.name for given in plug_ins.by_name[name].gives)


def sections_of_states(opened: dict[str, Gate]) -> tuple[LogSection, ...]:
    """Sections that don't overlap, by name and number, from gates over the ticks of the log, (tick,) each."""
    free = np.ones(max((len(gate) for gate in opened.values()), default=0), dtype=bool)
    found: list[tuple[str, int, int]] = []
    for kind in (kind for kind in KINDS if kind.state in opened):
        gate = kept(bridged(opened[kind.state] & free, kind.pause, DT) & free, kind.least, DT)
        for first, last in stretches(gate):
            begin = _reach_back(free, first, round(kind.before / DT))
            free[begin:last] = False
            found.append((kind.name, begin, last))
    numbers = dict.fromkeys((kind.name for kind in KINDS), 0)
    sections = []
    for name, first, last in sorted(found, key=lambda section: section[1]):
        numbers[name] += 1
        sections.append(LogSection(f"{name}-{numbers[name]}", first * DT, last * DT))
    return tuple(sections)


def _reach_back(free: Gate, first: int, ticks: int) -> int:
    """Up to so many ticks before `first`, as far as nothing else lies there."""
    before = free[max(first - ticks, 0) : first][::-1]
    taken = np.flatnonzero(~before)
    return first - (int(taken[0]) if len(taken) else len(before))


def touched(sections: Sequence[LogSection], start: float, end: float) -> list[LogSection]:
    """Sections that a stretch reaches into."""
    return [section for section in sections if section.start < end and start < section.end]


def where(sections: Sequence[LogSection], time: float) -> str:
    """Name of the section at a time, or `between`."""
    return next((section.name for section in sections if section.start <= time < section.end), BETWEEN)
