"""A recording as it lies in a file: groups of columns, each group with its own clock, read in blocks and never whole."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from replay.notice import Notice, file_digest

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Column:
    """A column as the file names it, and its unit as the file says it ("" where it doesn't)."""

    name: str
    unit: str = ""


@dataclass(frozen=True)
class Group:
    """Columns that were sampled together: one clock.

    `clock` names the group's own clock where the format has one, which then gives stamps in seconds; "" where time is
    one of the columns, or where there is none. `name` is "" where the file has one group only.
    """

    name: str
    columns: tuple[Column, ...]
    clock: str = ""

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the columns."""
        return tuple(column.name for column in self.columns)


@dataclass(frozen=True)
class Block:
    """Some consecutive samples of one group.

    numbers : dict of (sample,) arrays
        By column name, as recorded (no unit, sign or offset applied), NaN where there is no value.
    texts : dict of (sample,) object arrays
        Columns that were asked for as text: str, or None where blank.
    lines : (sample,) int array
        Where each sample stands: line of the file, or index within the group.
    done : float
        Share of the group read up to the end of this block.
    stamps : (sample,) array or None
        The group's own clock, None where it has none. [s]
    """

    numbers: Mapping[str, Array]
    texts: Mapping[str, NDArray[Any]]
    lines: NDArray[np.int64]
    done: float
    stamps: Array | None = None


@dataclass
class Recording(ABC):
    """A file, opened; `facts` is what it says about itself, `counts` is what `Block.lines` count: "line" or "sample"."""

    name: str
    groups: tuple[Group, ...]
    path: Path | None = None
    counts: str = "line"
    facts: dict[str, str] = field(default_factory=dict)
    opening: list[Notice] = field(default_factory=list)

    @abstractmethod
    def blocks(self, group: int, numbers: Sequence[str], texts: Sequence[str] = ()) -> Iterator[Block]:
        """A fresh pass over one group, with these columns only; memory doesn't grow with its length."""

    def place(self, group: int, line: int) -> str:
        """Place of a sample for messages: `run7.csv line 12`."""
        within = f" group {self.groups[group].name!r}" if len(self.groups) > 1 else ""
        return f"{self.name}{within} {self.counts} {line}"

    @property
    def digests(self) -> dict[str, str]:
        """Content digests by what they name."""
        return {"log": file_digest(self.path)} if self.path is not None and self.path.is_file() else {}
