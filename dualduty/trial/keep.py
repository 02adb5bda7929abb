"""Keep a fresh log or run again: its health, its sections, and the verdict on both."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from dualduty.calibration.model import Calibration
from dualduty.calibration.read import read_calibration
from dualduty.car import Car, read_car
from dualduty.discovery import PlugIns
from dualduty.errors import BadInput, SeveralBadInputs
from dualduty.trial.clock import DT, Progress, part_of
from dualduty.trial.folder import WorkFolder
from dualduty.trial.keep_sections import sections_by_detectors, sections_of_table, where
from dualduty.trial.keep_verdict import Verdict, verdict
from dualduty.trial.run_sheet import LogSection, RunSheet, read_run_sheet
from dualduty.trial.sameness import driver_file
from replay.channels.channel_map_file import read_channel_map
from replay.health.channels import ESSENTIAL
from replay.health.check_log import Health, VehicleFacts, check_log
from replay.health.effects import untrusted
from replay.health.finding import IMPAIRS, Finding, in_order
from replay.health.put_right import put_right
from replay.log import Log
from replay.open_log import open_log
from replay.open_loop import remarks
from strategies.controller import Strategy

BASELINE = "marram_baseline"


@dataclass(frozen=True)
class Asked:
    """What is asked about: a run file, the name of a run, or a bare log with a channel map; the rest is optional."""

    said: str
    work: WorkFolder
    channel_map: str | None = None
    sections: Path | None = None
    vehicle: str | None = None
    calibration: str | None = None


@dataclass(frozen=True)
class Kept:
    """The answer: `told_by` says where the sections come from, `against` which vehicle the log was held against."""

    name: str
    health: Health
    sections: tuple[LogSection, ...]
    told_by: str
    against: str
    verdict: Verdict

    def presses(self) -> list[tuple[float, str]]:
        """Presses of the marker button: time and section. [s]"""
        return [(time, where(self.sections, time)) for time in self.health.presses or ()]

    def to_json(self) -> str:
        """Everything told, as a file for scripts."""
        document = {
            "log": self.health.log, "lasts_s": round(self.health.lasts, 3), "verdict": self.verdict.line, "keep": self.verdict.keep,
            "once_the_map_is_put_right": list(self.verdict.mendable),
            "marker_s": None if self.health.presses is None else [round(time, 3) for time in self.health.presses],
            "sections_told_by": self.told_by,
            "sections": [{"name": section.name, "start_s": section.start, "end_s": section.end} for section in self.sections],
            "findings": [found.to_row() for found in self.health.findings],
        }  # fmt: skip
        return json.dumps(document, indent=1, ensure_ascii=False) + "\n"


def keep(asked: Asked, plug_ins: PlugIns, progress: Progress) -> Kept:
    """Read the log once for its health, once more for its sections where nobody names them; nothing is written."""
    sheet = _sheet(asked)
    log = sheet.open() if sheet is not None else _bare(asked)
    calibration = _calibration(asked, sheet, plug_ins)
    car = _car(asked, sheet, calibration)
    facts = None if car is None else VehicleFacts(car.wheelbase, car.static_travel, car.hang_travel)
    named = _named_sections(asked, sheet)
    health = check_log(log, facts, part_of(progress, (0, 10 if named else 6), 10))
    health = replace(health, findings=tuple(in_order([*health.findings, *_missing(log)])))
    sections, told_by = named or _found_sections(log, health, calibration, plug_ins, part_of(progress, (6, 4), 10))
    said = verdict(health.findings, sections, health.lasts)
    without = _cannot_run(log, calibration, plug_ins)
    if said.keep and without:
        said = replace(said, line=f"{said.line}, but not for {without}")
    return Kept(sheet.name if sheet else Path(asked.said).name, health, sections, told_by, "" if car is None else car.name, said)


def _cannot_run(log: Log, calibration: Calibration | None, plug_ins: PlugIns) -> str:
    """The calibration that can't be replayed on this log, and the first thing it lacks; empty where it can."""
    if calibration is None:
        return ""
    try:
        remarks(log, Strategy([calibration], [0], plug_ins, DT))
    except SeveralBadInputs as problem:
        more = f" and {len(problem.problems) - 1} more" if len(problem.problems) > 1 else ""
        return f"{calibration.name}: {problem.problems[0].problem}{more}"
    except BadInput as problem:
        return f"{calibration.name}: {problem.problem}"
    return ""


def _sheet(asked: Asked) -> RunSheet | None:
    """The run file asked about; None for a bare log."""
    path = Path(asked.said)
    if path.suffix == ".toml":
        return read_run_sheet(path)
    if asked.channel_map is not None or path.exists():
        return None
    return read_run_sheet(asked.work.log_files((asked.said,))[0])


def _bare(asked: Asked) -> Log:
    path = Path(asked.said)
    if not path.exists():
        raise BadInput(path, "expected a run file, the name of a run, or a log; found no such file")
    if asked.channel_map is None:
        raise BadInput(path, "is a log without a run file; say how to read it with --map CHANNEL_MAP (dualduty inspect suggests one)")
    return open_log(path, read_channel_map(_channel_map(asked)))


def _channel_map(asked: Asked) -> Path:
    """The channel map by path, or by name within the folder."""
    said = Path(str(asked.channel_map))
    inside = asked.work.root / "channel_maps" / f"{said.name.removesuffix('.toml')}.toml"
    return inside if not said.exists() and said.parent == Path() and inside.is_file() else said


def _calibration(asked: Asked, sheet: RunSheet | None, plug_ins: PlugIns) -> Calibration | None:
    """Whose detectors find the sections: the one asked for, what drove, or the baseline of the folder; None where there is none."""
    if asked.calibration is not None:
        return read_calibration(asked.work.calibration(asked.calibration), plug_ins)
    try:
        path = driver_file(sheet, asked.work) if sheet is not None else asked.work.calibration(BASELINE)
        return read_calibration(path, plug_ins)
    except BadInput:
        return None  # nothing was asked for; sections are then told to be unknown


def _car(asked: Asked, sheet: RunSheet | None, calibration: Calibration | None) -> Car | None:
    """The vehicle asked for, the one the run names, or the one the calibration is made for."""
    if asked.vehicle is not None:
        return read_car(asked.work.vehicle(asked.vehicle))
    if sheet is not None and sheet.vehicle:
        path = asked.work.root / "vehicles" / f"{sheet.vehicle.replace(' ', '_')}.toml"
        if path.is_file():
            return read_car(path)
    return None if sheet is None or calibration is None else calibration.car


def _named_sections(asked: Asked, sheet: RunSheet | None) -> tuple[tuple[LogSection, ...], str] | None:
    if asked.sections is not None:
        return sections_of_table(asked.sections), f"sections from {asked.sections}"
    if sheet is not None and sheet.sections:
        return sheet.sections, "sections from the run file"
    return None


def _found_sections(
    log: Log, health: Health, calibration: Calibration | None, plug_ins: PlugIns, progress: Progress
) -> tuple[tuple[LogSection, ...], str]:
    """Sections by detectors on the log, with what was found turned put right in memory."""
    if calibration is None:
        return (), "no sections: no calibration whose detectors could find them (--calibration, or --sections)"
    try:
        sections = sections_by_detectors(put_right(log, health.moves), calibration, plug_ins, progress)
    except BadInput as problem:
        return (), f"no sections: the detectors of {calibration.name} can't run on this log: {problem.problem}"
    righted = ", with the map put right in memory" if health.moves else ""
    return sections, f"sections by the detectors of {calibration.name}{righted}"


def _missing(log: Log) -> list[Finding]:
    """Signals that detectors stand on, named by the map and not in the log."""
    nan = float("nan")
    told: list[Finding] = []
    for name, lines in log.resolved.missing.items():
        label, remedy = name.replace("_", " "), "log it, or mend the map"
        whole = (nan, nan, 0.999, IMPAIRS)
        told += [Finding("not logged", label, *whole, line, untrusted(name), f"no {label}", remedy) for line in lines if name in ESSENTIAL]
    return told


def summary(kept: Kept) -> Sequence[str]:
    """What is said above the findings."""
    lines = list(kept.verdict.lines)
    if kept.health.presses is None:
        lines.append("marker button: the map names no such channel ([marker])")
    elif not kept.health.presses:
        lines.append("marker button: not pressed")
    else:
        times = ", ".join(f"{time:.2f} s ({section})" for time, section in kept.presses())
        count = len(kept.health.presses)
        often = {1: "once", 2: "twice"}.get(count, f"{count} times")
        lines.append(f"marker button: pressed {often}: {times}")
    return lines
