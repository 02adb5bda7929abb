"""The result folder of a trial: report, pictures, scorecard, table and manifest, written whole or not at all."""

from __future__ import annotations

import csv
import platform
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from dualduty import __version__
from dualduty.calibration.difference import Change
from dualduty.car import Car
from dualduty.cautions import simulated
from dualduty.export.candidate import Exported, export_candidate
from dualduty.files import result_folder
from dualduty.report.page import write_page
from dualduty.report.page_content import DetectorCheck, ExportedTable, Gate, LogPart, PageContent, ParameterChange, Picture
from dualduty.report.score_grid import Order
from dualduty.scoring.gate import Gate as ScoreGate
from dualduty.scoring.gate import GateCheck
from dualduty.scoring.scorecard import Scorecard
from dualduty.trial.log_outcome import Drawn, LogOutcome
from dualduty.trial.pictures import order_of, section_pictures
from dualduty.trial.side_work import SideWork
from dualduty.trial.trial import Trial
from dualduty.units import token_of


@dataclass(frozen=True)
class Written:
    """What stands in the result folder."""

    folder: Path
    report: Path
    exported: Exported


def write_results(trial: Trial, folder: Path, side: SideWork) -> Written:
    """Write everything of a trial into `folder`, in place of what an earlier trial left there."""
    with result_folder(folder) as draft:
        order = order_of(trial.simulated)
        scores = side.submit("dualduty.trial.pictures:score_pictures", trial.scorecard.to_rows(), order)
        sections = [_saved(drawn, draft) for drawn in section_pictures(trial.simulated, trial.scorecard, _car(trial), side)]
        for drawn in scores.result():
            _saved(drawn, draft)
        _write_scorecard(trial.scorecard, draft / "scorecard.csv")
        exported = export_candidate(trial.pair.candidate, trial.pair.baseline, draft, tried(trial))
        write_page(draft / "report.html", _content(trial, order, sections, exported, [_log(one, draft) for one in trial.logs]))
    moved = Exported(folder / exported.table.name, folder / exported.manifest.name, exported.changes, exported.limits)
    return Written(folder, folder / "report.html", moved)


def _car(trial: Trial) -> Car:
    """The car whose end stops a picture shows."""
    return trial.cars.candidate.car if trial.cars else trial.pair.baseline.car


def _write_scorecard(scorecard: Scorecard, path: Path) -> None:
    rows = scorecard.to_rows()
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def tried(trial: Trial) -> dict[str, Any]:
    """How the candidate was tried, for the manifest."""
    cases = trial.simulated.scores.cases
    return {
        "sections": sorted({case.section for case in cases}),
        "drive_modes": sorted({case.mode for case in cases}),
        "seeds_per_section": len({case.seed for case in cases}),
        "logs": [one.name for one in trial.logs],
        "faults_put_in": list(trial.put_in),
        **({"vehicles": trial.cars.facts()} if trial.cars else {}),
        "verdicts": trial.scorecard.summary().counts,
        "gates_crossed": [check.sentence() for check in trial.scorecard.crossed()],
        "stamp": simulated(trial.scorecard.stamp),
    }


def _saved(drawn: Drawn, folder: Path) -> Picture:
    (folder / drawn.file).write_bytes(drawn.png)
    return Picture(title=drawn.title, png=drawn.png, alternative=drawn.alternative, group=drawn.group)


def _content(trial: Trial, order: Order, sections: list[Picture], exported: Exported, logs: Sequence[LogPart]) -> PageContent:
    pair = trial.pair
    meanings = {(place, name): value.declaration.meaning for place, name, value in pair.candidate.values()}
    return PageContent(
        title=f"Trial of {trial.scorecard.candidate}",
        subtitle=_subtitle(trial),
        baseline=trial.scorecard.baseline,
        candidate=trial.scorecard.candidate,
        stamp=simulated(trial.scorecard.stamp),
        gates=_gates(trial.scorecard),
        changes=[_change(change, meanings) for change in exported.changes],
        scores=_in_mode_order(trial),
        score_order=order,
        pictures=sections,
        logs=logs,
        exported=[_exported(exported)],
        provenance=_provenance(trial),
    )


def _subtitle(trial: Trial) -> str:
    """The candidate's note, and a warning where the columns were driven by different hardware."""
    note = trial.pair.candidate.note
    if trial.cars is None or trial.cars.overlay is None:
        return note
    overlay = trial.cars.overlay
    return f"{note} Hardware: the baseline drove the plain {trial.cars.label}, the candidate the same with {overlay.name}.".strip()


def _in_mode_order(trial: Trial) -> list[dict[str, object]]:
    """Rows by drive mode as the calibration lists them, worst first within each."""
    modes = trial.pair.baseline.modes
    return sorted(trial.scorecard.to_rows(), key=lambda row: modes.index(str(row["mode"])))


def _gates(scorecard: Scorecard) -> list[Gate]:
    """Crossed and unchecked gates one by one, the kept ones a line each with the largest figure seen."""
    kept: dict[ScoreGate, list[GateCheck]] = {}
    told = []
    for check in scorecard.gates:
        if check.crossed is False:
            kept.setdefault(check.gate, []).append(check)
        else:
            told.append(Gate(check.measure.label, None if check.crossed is None else False, check.sentence()))
    for checks in kept.values():
        nearest = min(checks, key=lambda check: abs(check.gate.limit - check.value))
        told.append(Gate(nearest.measure.label, True, f"{nearest.sentence()}; the nearest of {len(checks)} places"))
    return told


def _change(change: Change, meanings: dict[tuple[str, str], str]) -> ParameterChange:
    narrowed = ", ".join(part for part in (change.corners, change.at) if part)
    place = f"{change.place}.{change.parameter}" + (f" ({narrowed})" if narrowed else "")
    said = token_of(change.unit) if change.unit else ""
    meaning = meanings.get((change.place, change.parameter), "")
    return ParameterChange(place, change.before, change.after, said, change.mode, meaning)


def _exported(exported: Exported) -> ExportedTable:
    findings = [f"{'holds' if limit.holds else 'BROKEN'}: {limit.limit} ({limit.found})" for limit in exported.limits]
    facts = [("table", exported.table.name), ("manifest", exported.manifest.name), ("values changed", str(len(exported.changes)))]
    return ExportedTable(name=exported.table.name, facts=facts, findings=findings)


def _provenance(trial: Trial) -> list[tuple[str, str]]:
    pair = trial.pair
    rows = [
        (f"{word}: {one.name}", f"{one.file.name}, digest {one.digest}")
        for word, one in (("baseline", pair.baseline), ("candidate", pair.candidate))
    ]
    seeds = sorted({case.seed for case in trial.simulated.scores.cases})
    rows.append(("vehicle of the calibration", f"{pair.baseline.car.name}, {pair.baseline.vehicle_file.name}"))
    rows += trial.cars.words() if trial.cars else []
    rows.append(("seeds", "each section's own" if seeds == [0] else ", ".join(str(seed) for seed in seeds)))
    rows += [("put in", line) for line in trial.put_in]
    rows.append(("made with", f"dualduty {__version__}, Python {platform.python_version()}"))
    return rows


def _log(one: LogOutcome, folder: Path) -> LogPart:
    pictures = [_saved(drawn, folder) for drawn in one.pictures]
    detectors = DetectorCheck(one.detections, _saved(one.detectors, folder), one.differing) if one.detectors else None
    return LogPart(one.name, one.driven_by, one.facts, one.scores, pictures, detectors=detectors)
