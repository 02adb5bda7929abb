"""A mark: an interval in which someone knows a state to be true, who knows it, how surely, and where it came from."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any, Final

WATCHED: Final = "watched"  # not a state: a stretch in which every event was marked; without any, that is the whole log
NOTE: Final = "note"  # not a state: a word tied to a time, or a press of the driver's marker button
NOT_STATES: Final = (WATCHED, NOTE)

PROPOSED: Final = "proposed"
ACCEPTED: Final = "accepted"
REJECTED: Final = "rejected"
STATUSES: Final = (PROPOSED, ACCEPTED, REJECTED)

OFFLINE: Final = "offline"  # origin of what `replay.offline.offline_states` proposed
BUTTON: Final = "marker button"  # origin of what the driver pressed
TRUTH: Final = "truth"  # origin of what a simulation knows

LEAST_SURE: Final = 0.5  # ours: a mark that is more likely wrong than right decides nothing
MARGIN: Final = 0.02  # s, softness of an edge where a mark has no margin of its own


@dataclass(frozen=True)
class Mark:
    """One interval, in seconds since the log's first stamp, half open; a note may be a moment.

    `where` is a corner, axle or side (`front_left`, `rear`, `left`), "" for the whole vehicle. `sure` runs from 0 to 1. `origin` is "" for
    what a person marked from scratch, else who proposed it: `detector Airborne of marram baseline`, `offline`, `marker button`, `truth`;
    it stays when the mark is moved or accepted. `status` is proposed, accepted or rejected. `start_margin` and `end_margin` are how
    far off each edge may be, None where nothing better than the rule's own margin is known. [s] `row` is the line of the file.
    """

    state: str
    start: float
    end: float
    where: str = ""
    sure: float = 1.0
    who: str = ""
    note: str = ""
    origin: str = ""
    status: str = ACCEPTED
    start_margin: float | None = None
    end_margin: float | None = None
    row: int = 0

    @property
    def counts(self) -> bool:
        """Whether it is an event to be found; one that doesn't counts neither for nor against a detection, unless it was rejected."""
        return self.status == ACCEPTED and self.sure >= LEAST_SURE and self.state != NOTE

    @property
    def name(self) -> str:
        """What commands call it: `airborne@12.340`, with a place `cornering_outer@9.200 left`."""
        return f"{self.state}@{self.start:.3f}" + (f" {self.where}" if self.where else "")

    def margins(self, otherwise: float = MARGIN) -> tuple[float, float]:
        """How soft its start and its end are: its own margins, else the rule's. [s]"""
        start, end = self.start_margin, self.end_margin
        return (otherwise if start is None else start, otherwise if end is None else end)

    def to_row(self) -> dict[str, Any]:
        """As a plain dict."""
        return asdict(self)
