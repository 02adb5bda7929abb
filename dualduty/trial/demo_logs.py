"""Make the marked demo logs: a car that is not the nominal one, driven round an invented loop, recorded with faults.

Run as `python -m dualduty.trial.demo_logs FOLDER`; the same seeds give the same files.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.calibration.read import read_calibration
from dualduty.discovery import discover
from dualduty.files import write_text
from dualduty.trace import Case, Header, TraceChunk
from dualduty.trial.clock import DT
from dualduty.trial.demo_session.columns import MODE, PLAIN, RATE, recorded, sample_ticks, stamps_of
from dualduty.trial.demo_session.truth_marks import truth_marks
from dualduty.trial.demo_session.write_log import csv_text
from dualduty.true_ground import Stretch, stretches_of
from plant.closed_loop import drive
from plant.section import read_section
from plant.sensor_offsets import with_offsets
from plant.sensors import TYPICAL, Sensors
from plant.vehicle import read_vehicle
from replay.marks.mark_row import COLUMNS, cells_of, line_of
from replay.marks.marks import Mark
from strategies.controller import Strategy

Array = NDArray[np.float64]

_MARKED: Final = ("airborne", "landing", "cornering", "braking")
_LOST: Final = "travel_rl_mm"
_LOST_FOR: Final = 0.12  # s


@dataclass(frozen=True)
class Recipe:
    """One demo log: its name, the drive mode, and the seed of its sensor noise."""

    name: str
    mode: str
    seed: int


RECIPES: Final = (Recipe("quarry_loop_dash", "dash", 71), Recipe("quarry_loop_patrol", "patrol", 72))


def make_demo_logs(shipped: Path, folder: Path) -> list[Path]:
    """Drive, record and mark every recipe; gives the run files written."""
    plug_ins = discover()
    calibration = read_calibration(shipped / "strategies" / "marram_baseline.toml", plug_ins)
    section = read_section(shipped / "lanes" / "quarry_loop.toml")
    vehicle = read_vehicle(shipped / "vehicles" / "marram_2.toml")
    written = []
    for recipe in RECIPES:
        plain = Sensors({name: replace(error, dropout=0.0005) for name, error in TYPICAL.items()}, recipe.seed)
        sensors = with_offsets(plain, vehicle)
        case = Case(recipe.name, calibration.name, recipe.mode, recipe.seed, "marram 2")
        strategy = Strategy([calibration], [0], plug_ins, DT)
        mode = np.array([calibration.modes.index(recipe.mode)], np.int16)
        trace = drive([section.build()], [vehicle], strategy, (case,), mode, sensors=sensors)
        _write(folder, recipe, trace.whole(), trace.header, stretches_of(section))
        written.append(folder / f"{recipe.name}.toml")
    return written


def _write(folder: Path, recipe: Recipe, run: TraceChunk, header: Header, stretches: tuple[Stretch, ...]) -> None:
    text, zero = _log_text(run, recipe)
    write_text(folder / f"{recipe.name}.csv", text)
    marks = [mark for mark in truth_marks(run, header, stretches, zero, _MARKED) if mark.counts]
    write_text(folder / f"{recipe.name}.marks.csv", _marks_text(sorted(marks, key=lambda mark: _MARKED.index(mark.state))))
    lines = [
        "# Invented demo data: simulated with a car that differs from the nominal one, with sensor noise and dropouts.",
        f'log = "{recipe.name}.csv"',
        'channel_map = "../channel_maps/marram_logger.toml"',
        f'marks = "{recipe.name}.marks.csv"',
        f'driven_by = "{header.cases[0].candidate}"',
        'vehicle = "marram 2"',
        f'note = "Invented. Gorse Pit quarry loop, {recipe.mode}, two aboard."',
    ]
    write_text(folder / f"{recipe.name}.toml", "\n".join(lines) + "\n")


def _marks_text(marks: Sequence[Mark]) -> str:
    """Marks of the truth, state by state, with the columns that people fill in."""
    rows = [COLUMNS, *([cells_of(mark)[name] for name in COLUMNS] for mark in marks)]
    return "".join(f"{line}\n" for line in ["# invented demo data", *map(line_of, rows)])


def _log_text(run: TraceChunk, recipe: Recipe) -> tuple[str, float]:
    """The log as a logger would have written it, and the drive's time at its first stamp. [s]"""
    random = np.random.default_rng(recipe.seed)
    ticks = sample_ticks(run.ticks, DT)
    stamps = stamps_of(ticks, DT, random)
    sources = {**run.signals, "airborne": run.states["airborne"], "drive_mode": run.mode.astype(float)}
    columns = recorded((*PLAIN, MODE), {name: values[:, ticks, 0] for name, values in sources.items()})
    lost = _lose(columns[_LOST], random)
    return csv_text(stamps - stamps[0], columns, f"invented demo log; car marram 2; {lost}"), float(stamps[0])


def _lose(values: Array, random: np.random.Generator) -> str:
    """Lose a channel for a moment somewhere in the second half."""
    start = int(random.integers(len(values) // 2, len(values) - 100))
    values[start : start + round(_LOST_FOR * RATE)] = np.nan
    return f"one travel channel drops out near {start / RATE:.0f} s"


if __name__ == "__main__":
    from dualduty.shipped import shipped_calibrations

    for path in make_demo_logs(shipped_calibrations(), Path(sys.argv[1])):
        sys.stdout.write(f"wrote {path}\n")
