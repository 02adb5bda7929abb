"""Stretches without a usable value, of one channel or of several at once, as findings."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from replay.health.channels import Row
from replay.health.effects import carries
from replay.health.finding import IMPAIRS, NOTE, SPOILS, Finding, seconds

HELD: Final = 0.1  # s; so long the last value stands in unless the map says otherwise
SPOILING: Final = 0.25  # s, our choice: the shortest flights and landings that matter last about so long
MOST: Final = 500  # holes of one channel that are kept; the rest are counted
_TOGETHER: Final = 0.05  # s; a cable or a module takes its channels along within this
_SEVERAL: Final = 3  # labels told one by one


@dataclass(frozen=True)
class Hole:
    """A stretch of one channel. [s]"""

    row: Row
    start: float
    end: float

    @property
    def length(self) -> float:
        """How long. [s]"""
        return self.end - self.start


def severity_of(length: float, *, essential: bool) -> str:
    """How bad a hole of this length is."""
    if length <= HELD:
        return NOTE
    return SPOILS if essential and length > SPOILING else IMPAIRS


def together(holes: Sequence[Hole]) -> Iterator[list[Hole]]:
    """Holes that begin and end together, as one."""
    left = sorted(holes, key=lambda hole: (hole.start, hole.row.index))
    while left:
        first = left[0]
        same = [hole for hole in left if abs(hole.start - first.start) <= _TOGETHER and abs(hole.end - first.end) <= _TOGETHER]
        left = [hole for hole in left if hole not in same]
        yield same


def labels_of(rows: Sequence[Row]) -> str:
    """Some channels by name, many by their number."""
    names = [row.label for row in rows]
    return " and ".join(names) if len(names) < _SEVERAL else f"{', '.join(names[:2])} and {len(names) - 2} more"


def hole_finding(kind: str, said: str, holes: Sequence[Hole], sure: float, remedy: str) -> Finding:
    """One finding of holes that lie together; `said` follows the channels' names in the text."""
    start, end = min(hole.start for hole in holes), max(hole.end for hole in holes)
    rows = [hole.row for hole in holes]
    label, length = labels_of(rows), seconds(end - start)
    essential = any(row.essential for row in rows)
    carrier = next((row for row in rows if row.essential), rows[0])
    effect = f"not to be trusted from {start:.2f} s to {end:.2f} s: {carries(carrier.signal.name)}"
    text = f"{label}: {said} for {length} from {start:.2f} s"
    return Finding(
        kind, label, start, end, sure, severity_of(end - start, essential=essential), text, effect, f"{length} {kind}", remedy,
        rows=tuple(row.index for row in rows),
    )  # fmt: skip
