"""What a replayed log leaves for a report: words, rows and pictures, small enough to hand from process to process."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from dualduty.calibration.read import read_calibration
from dualduty.discovery import discover
from dualduty.report.detector_picture import draw_detections
from dualduty.report.figure_file import png_bytes
from dualduty.report.gather import gather
from dualduty.report.time_series import draw_duties
from dualduty.trial.detections import detection_rows, differing
from dualduty.trial.logs import Replayed, replay_run
from dualduty.trial.run_sheet import read_run_sheet
from dualduty.trial.sameness import grounding

Row = dict[str, Any]


@dataclass(frozen=True)
class Drawn:
    """A picture with its file name, and what it shows in words."""

    file: str
    png: bytes
    title: str
    alternative: str
    group: str


@dataclass(frozen=True)
class LogOutcome:
    """One log replayed through baseline and candidate; `detections` are the candidate's against the marks."""

    name: str
    driven_by: str
    facts: tuple[tuple[str, str], ...]
    scores: tuple[Row, ...]
    pictures: tuple[Drawn, ...]
    detections: tuple[Row, ...] = ()
    detectors: Drawn | None = None
    differing: tuple[str, ...] = ()


def log_outcome(sheet: Path, calibrations: Sequence[Path], plugin_files: Sequence[Path]) -> LogOutcome:
    """Replay one run through each calibration and draw it; everything is named by path, so any process can do it."""
    plug_ins = discover(tuple(plugin_files))
    replayed = replay_run(read_run_sheet(sheet), [read_calibration(path, plug_ins) for path in calibrations], plug_ins)
    name = replayed.sheet.name
    facts = [("log", replayed.sheet.log.name), ("vehicle", replayed.sheet.vehicle or "not said"), ("note", replayed.sheet.note or "none")]
    facts.append(("replay against the vehicle", grounding(replayed).text))
    facts += [("noticed", line) for line in replayed.notice_lines()[:8]]
    rows, detectors, words = _detectors(replayed)
    return LogOutcome(
        name, replayed.sheet.driven_by, tuple(facts), tuple(replayed.score_rows()), (_duties(replayed),), rows, detectors, words
    )


def _duties(replayed: Replayed) -> Drawn:
    before, after = gather(replayed.traces[0])[0], gather(replayed.traces[-1])[0]
    name = replayed.sheet.name
    png = png_bytes(draw_duties(after, before))
    return Drawn(f"duties_log_{name}.png", png, f"Duties and layers: log {name}", "Duty of each corner and side over the log", "logs")


def _detectors(replayed: Replayed) -> tuple[tuple[Row, ...], Drawn | None, tuple[str, ...]]:
    if not replayed.checks:
        return (), None, ()
    rows = detection_rows(replayed.checks[-1])
    name = replayed.sheet.name
    png = png_bytes(draw_detections(rows))
    drawn = Drawn(f"detectors_{name}.png", png, f"Detectors: log {name}", "Marks and detections over time", "logs")
    return tuple(rows), drawn, tuple(differing(replayed.checks[0], replayed.checks[-1]))
