"""What `threshold-sweep` does, with everything imported."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from time import perf_counter
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.calibration.model import Calibration
from dualduty.calibration.read import read_calibration
from dualduty.command_line.console import console, progress
from dualduty.command_line.noticed import tell_noticed
from dualduty.discovery import PlugIns, discover
from dualduty.errors import BadInput
from dualduty.files import check_result_folder, result_folder, write_text
from dualduty.report.figure_file import write_figure
from dualduty.report.sweep_picture import SweptAxis, SweptFigures, draw_sweep
from dualduty.trial.clock import DT
from dualduty.trial.folder import WorkFolder, work_folder_of
from dualduty.trial.run_sheet import read_run_sheet
from dualduty.trial.sweep_words import csv_text, lines
from dualduty.trial.swept_parameter import SweptParameter, swept_parameter
from dualduty.trial.threshold_sweep import MarkedLog, Sweep, SweepPlan, looked_for, marked_logs, state_to_judge, sweep
from replay.check.detector_gates import Gates, read_gates

MOST_CASES: Final = 4_000  # over an hour of logs, some minutes


def run(given: dict[str, Any]) -> None:
    """Sweep, say where the best values lie, write the picture and the table."""
    plug_ins = discover(given["plugins"])
    path = WorkFolder(given["folder"] or Path()).calibration(given["calibration"])
    work = work_folder_of(path, given["folder"])
    calibration = read_calibration(path, plug_ins)
    tell_noticed(calibration)
    parameters = _parameters(given, calibration, plug_ins)
    gates = _gates(work, given["gates"])
    logs = _marked(work, given["logs"])
    state = state_to_judge(given["state"], parameters, logs, gates)
    logs = looked_for(state, logs)
    target = given["out"] or Path("results") / ("sweep_" + "_".join(one.label for one in parameters))
    check_result_folder(target)
    began = perf_counter()
    plan = SweepPlan(calibration, parameters, state, gates, given["min_sure"] / 100.0)
    made = sweep(plan, logs, plug_ins, partial(progress, quiet=given["quiet"]))
    seconds = perf_counter() - began
    with result_folder(target) as draft:
        write_text(draft / "sweep.csv", csv_text(made))
        write_figure(draw_sweep(*_picture(made)), draft / "sweep.png")
    out = console()
    out.print(f"{state} of {calibration.name}: {len(made.cases)} values over {_said_logs(made)}", markup=False)
    for line in lines(made):
        out.print(f"  {line}", markup=False, soft_wrap=True)
    out.print(f"picture and table in {target}", markup=False)
    out.print(f"compute {seconds:.1f} s")


def _parameters(given: dict[str, Any], calibration: Calibration, plug_ins: PlugIns) -> tuple[SweptParameter, ...]:
    """The parameter, or both."""
    wanted = [(given["parameter"], _values(given["low"], given["high"], given["count"], ("--from", "--to")))]
    pair = (given["low_2"], given["high_2"])
    if given["second"] is None:
        if pair != (None, None):
            raise BadInput("--from-2", "belongs to a second parameter; name it: --and DETECTOR.PARAMETER")
    elif None in pair:
        raise BadInput("--and", "expected the range of the second parameter: --from-2 and --to-2")
    else:
        wanted.append((given["second"], _values(*pair, given["count_2"], ("--from-2", "--to-2"))))
    parameters = tuple(swept_parameter(text, values, calibration, plug_ins) for text, values in wanted)
    cases = int(np.prod([len(values) for _, values in wanted]))
    if cases > MOST_CASES:
        raise BadInput("--values-2", f"expected at most {MOST_CASES} combinations, got {cases}")
    if len({(one.place, one.name) for one in parameters}) < len(parameters):
        raise BadInput("--and", f"expected another parameter than {parameters[0].label}")
    return parameters


def _values(low: float, high: float, count: int, names: tuple[str, str]) -> NDArray[np.float64]:
    if not np.isfinite([low, high]).all():
        raise BadInput(names[0], f"expected two numbers, got {low:g} and {high:g}")
    if not low < high:
        raise BadInput(names[1], f"expected more than {names[0]} {low:g}, got {high:g}")
    return np.linspace(low, high, count)


def _gates(work: WorkFolder, chosen: Path | None) -> Gates:
    usual = work.root / "detector_gates.toml"
    return read_gates(chosen or usual) if chosen is not None or usual.is_file() else Gates()


def _marked(work: WorkFolder, names: tuple[str, ...]) -> list[MarkedLog]:
    logs = marked_logs([read_run_sheet(path) for path in work.log_files(names)])
    if not logs:
        raise BadInput(work.logs, "expected at least one run with marks, found none")
    return logs


def _said_logs(made: Sweep) -> str:
    minutes = made.ticks * DT / 60.0
    return f"{made.logs[0] if len(made.logs) == 1 else f'{len(made.logs)} logs'} ({minutes:.1f} min)"


def _picture(made: Sweep) -> tuple[str, str, list[SweptAxis], SweptFigures]:
    plan = made.plan
    names = " and ".join(one.label for one in plan.parameters)
    axes = [SweptAxis(f"{one.label}" + (f"  [{one.unit}]" if one.unit else ""), one.values, one.current) for one in plan.parameters]
    shown = SweptFigures(
        made.figure(lambda one: 100.0 * one.recall), made.figure(lambda one: 100.0 * one.precision),
        made.figure(lambda one: one.false_per_minute), made.figure(lambda one: 1e3 * one.onset[0]),
        made.figure(lambda one: 1e3 * one.onset[1]), made.kept if made.gated else None,
    )  # fmt: skip
    return f"{plan.state} over {names}", f"{plan.calibration.name}; marks of {_said_logs(made)}", axes, shown
