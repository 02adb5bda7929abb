"""What a report page says, as plain data: who fills it needs to know nothing of its looks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from dualduty.cautions import CAUTIONS
from dualduty.report.score_grid import Order

Row = Mapping[str, Any]


@dataclass(frozen=True)
class Gate:
    """A line that must not be crossed; `passed` None where it can't be told."""

    name: str
    passed: bool | None
    said: str


@dataclass(frozen=True)
class ParameterChange:
    """One changed parameter, values in `said`; `place` is where it stands in the calibration file."""

    place: str
    before: float | str | None
    after: float | str | None
    said: str = ""
    mode: str = ""
    meaning: str = ""


@dataclass(frozen=True)
class Picture:
    """One figure as PNG; `alternative` tells in words what is to be seen."""

    title: str
    png: bytes
    alternative: str
    caption: str = ""
    group: str = ""


@dataclass(frozen=True)
class DetectorCheck:
    """Rows as `detector_picture.draw_detections` takes them, and the picture."""

    rows: Sequence[Row]
    picture: Picture | None = None
    said: Sequence[str] = ()


@dataclass(frozen=True)
class LogPart:
    """A replayed log: its name, the calibration that drove it, a few facts, its own score rows, and its detector check."""

    name: str
    driven_by: str
    facts: Sequence[tuple[str, str]] = ()
    scores: Sequence[Row] = ()
    pictures: Sequence[Picture] = ()
    same_as_driven: Gate | None = None
    detectors: DetectorCheck | None = None


@dataclass(frozen=True)
class ExportedTable:
    """A file that goes onto the vehicle: facts beside it, and findings against its limits."""

    name: str
    facts: Sequence[tuple[str, str]] = ()
    findings: Sequence[str] = ()


@dataclass(frozen=True)
class PageContent:
    """Everything on a page, top to bottom; what is empty is left out or said to be missing.

    `scores` are rows as `Scorecard.to_rows` gives them: section, mode, label (or measure), unit, baseline, candidate,
    change_pct, verdict and band, values in the unit people say; `headline` defaults to sentences made from them.
    """

    title: str
    baseline: str
    candidate: str
    stamp: str
    headline: Sequence[str] = ()
    gates: Sequence[Gate] = ()
    changes: Sequence[ParameterChange] = ()
    scores: Sequence[Row] = ()
    score_order: Order = field(default_factory=Order)
    pictures: Sequence[Picture] = ()
    logs: Sequence[LogPart] = ()
    exported: Sequence[ExportedTable] = ()
    provenance: Sequence[tuple[str, str]] = ()
    cautions: Sequence[str] = CAUTIONS
    subtitle: str = ""
