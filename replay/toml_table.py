"""A table of a TOML file that collects every problem with its place instead of stopping at the first."""

from __future__ import annotations

import difflib
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from dualduty.errors import BadInput
from dualduty.toml_file import read_toml


@dataclass
class Table:
    """Keys and values at one place of a file; all tables of a file share one list of problems."""

    file: str
    place: str
    values: dict[str, Any]
    problems: list[BadInput] = field(default_factory=list)

    @property
    def name(self) -> str:
        """Last part of the place."""
        return self.place.rsplit(".", 1)[-1]

    def bad(self, key: str, text: str) -> None:
        """Note a problem at `key`; the same one is noted once."""
        problem = BadInput(f"{self.file}: {self._at(key)}", text)
        if str(problem) not in map(str, self.problems):
            self.problems.append(problem)

    def only(self, known: Sequence[str], why: Mapping[str, str] | None = None) -> None:
        """Every key that isn't known is a problem; `why` has a better reason for some."""
        for key in self.values:
            if why and key in why:
                self.bad(key, why[key])
            elif key not in known:
                self.bad(key, f"unknown key{nearest(key, known)}")

    def table(self, key: str) -> Table:
        """The table under `key`; empty when there is none."""
        value = self.values.get(key, {})
        if not isinstance(value, dict):
            self.bad(key, f"expected a table, came {value!r}")
            value = {}
        return Table(self.file, self._at(key), value, self.problems)

    def tables(self, key: str, known: Sequence[str] | None) -> list[Table]:
        """All tables under `key`, those with a known name (any when None)."""
        group = self.table(key)
        if known is not None:
            group.only(known)
        return [group.table(name) for name in group.values if known is None or name in known]

    def inline(self, key: str, short: str, known: Sequence[str]) -> Table:
        """A table that may be written as the bare text of its key `short`."""
        value = self.values[key]
        if not isinstance(value, dict):
            return Table(self.file, self._at(key), {short: value}, self.problems)
        table = self.table(key)
        table.only(known)
        return table

    def over(self, below: Table, keys: Sequence[str]) -> Table:
        """The table with `keys` of another where it doesn't say otherwise."""
        return Table(
            self.file, self.place, {**{key: below.values[key] for key in keys if key in below.values}, **self.values}, self.problems
        )

    def text(self, key: str) -> str:
        """A text that isn't empty; "" and a problem otherwise."""
        value = self.values.get(key)
        if isinstance(value, str) and value.strip():
            return value.strip()
        self.bad(key, "expected a text, came nothing" if value is None else f"expected a text, came {value!r}")
        return ""

    def texts(self, key: str) -> list[str]:
        """A list of texts, empty when there is none."""
        value = self.values.get(key, [])
        if isinstance(value, list) and all(isinstance(entry, str) and entry.strip() for entry in value):
            return [entry.strip() for entry in value]
        self.bad(key, f"expected a list of texts, came {value!r}")
        return []

    def number(self, key: str, default: float, low: float, high: float) -> float:
        """A number within its bounds."""
        value = self.values.get(key, default)
        if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
            self.bad(key, f"expected a number, came {value!r}")
            return default
        if not low <= value <= high:
            self.bad(key, f"expected {low:g} to {high:g}, came {value:g}")
            return default
        return float(value)

    def flag(self, key: str) -> bool:
        """True or false; false when absent."""
        value = self.values.get(key, False)
        if not isinstance(value, bool):
            self.bad(key, f"expected true or false, came {value!r}")
            return False
        return value

    def _at(self, key: str) -> str:
        return ".".join(part for part in (self.place, key) if part)


def load_table(path: Path) -> Table:
    """A whole TOML file; BadInput when it can't be read as one."""
    return Table(str(path), "", read_toml(path))


def nearest(came: str, known: Sequence[str]) -> str:
    """`; did you mean ...?` where a known word is close, else the list of known words."""
    near = difflib.get_close_matches(came, known, n=1)
    return f"; did you mean {near[0]!r}?" if near else f"; expected one of {', '.join(known)}"
