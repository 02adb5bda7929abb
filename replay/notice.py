"""What to tell about a recording that is no error, and what names a file by its content."""

from __future__ import annotations

import hashlib
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any


@dataclass(frozen=True)
class Notice:
    """Something about a recording that is no error but should be known; times since the first stamp. [s]"""

    kind: str
    channel: str
    start: float
    length: float
    text: str

    def to_row(self) -> dict[str, Any]:
        """As a plain dict."""
        return asdict(self)

    def __str__(self) -> str:
        return f"{self.kind}: {self.text}"


def file_digest(path: Path) -> str:
    """SHA-256 of a file's content."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
