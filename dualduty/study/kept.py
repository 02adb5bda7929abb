"""What a long search has found, kept section by section in a file: an interrupted study goes on, and another calibration starts at once.

An entry is believed only if it was asked for the same and the reference setting, driven anew, still gives the same numbers to the
bit: so a changed vehicle, section, plant or measure is searched anew, whatever changed about it.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from dualduty.files import write_text


@dataclass
class Kept:
    """Entries by name; without a path nothing outlives the run."""

    path: Path | None = None
    entries: dict[str, dict[str, Any]] = field(default_factory=dict)

    @classmethod
    def of(cls, path: Path) -> Kept:
        """What a file holds; one that can't be read as such is as good as none."""
        try:
            entries = json.loads(path.read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return cls(path)
        return cls(path, {name: entry for name, entry in entries.items() if isinstance(entry, dict)} if isinstance(entries, dict) else {})

    def find(self, name: str, asked: Any, reference: Any) -> dict[str, Any] | None:
        """The entry, if it was asked for the same and its reference is the same."""
        entry = self.entries.get(name, {})
        return entry if entry.get("asked") == digest(asked) and entry.get("reference") == digest(reference) else None

    def put(self, name: str, asked: Any, reference: Any, found: dict[str, Any]) -> dict[str, Any]:
        """Take in an entry, and write the file."""
        self.entries[name] = {"asked": digest(asked), "reference": digest(reference), **found}
        if self.path is not None:
            write_text(self.path, json.dumps(self.entries, indent=1, sort_keys=True) + "\n")
        return self.entries[name]


def digest(content: Any) -> str:
    """Digest of anything that JSON can say; numbers count to the bit."""
    return hashlib.sha256(json.dumps(content, sort_keys=True).encode()).hexdigest()[:16]
