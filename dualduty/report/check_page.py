"""The page of a detector check: one file with every figure, and every event that went wrong drawn up close."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from dualduty.files import write_text
from dualduty.report.page import environment
from dualduty.report.page_content import Gate, Picture


@dataclass(frozen=True)
class Grid:
    """A table as text: its heading, columns, rows, and lines below it."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    below: tuple[str, ...] = ()


@dataclass(frozen=True)
class EventGroup:
    """Events that went wrong in one way: what they are called, what that means, pictures, and lines of those not drawn."""

    title: str
    meaning: str
    count: int
    pictures: tuple[Picture, ...] = ()
    others: tuple[str, ...] = ()


@dataclass(frozen=True)
class CheckPage:
    """Everything on the page, top to bottom; what is empty is left out."""

    title: str
    subtitle: str
    headline: Sequence[str]
    gates: Sequence[Gate] = ()
    figures: Sequence[Grid] = ()
    pictures: Sequence[Picture] = ()
    against: Sequence[str] = ()
    groups: Sequence[EventGroup] = ()
    logs: Sequence[Grid] = ()
    log_pictures: Sequence[Picture] = ()
    noticed: Sequence[str] = ()
    provenance: Sequence[tuple[str, str]] = ()


def write_check_page(path: Path, content: CheckPage) -> None:
    """Write the page in one step: the old file stays until the new one is whole."""
    write_text(path, check_page_text(content))


def check_page_text(content: CheckPage) -> str:
    """The page as text; the same content gives the same text."""
    return (
        environment().get_template("check_page.html.j2").render(page=content, crossed=any(gate.passed is False for gate in content.gates))
    )
