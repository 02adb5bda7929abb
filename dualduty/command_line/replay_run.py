"""What `replay` does, with everything imported."""

from __future__ import annotations

import math
from collections import Counter
from pathlib import Path

import numpy as np
from rich.table import Table

from dualduty.calibration.read import read_calibration
from dualduty.command_line.console import console, progress
from dualduty.command_line.noticed import tell_noticed
from dualduty.discovery import PlugIns, discover
from dualduty.errors import BadInput
from dualduty.files import check_result_folder, result_folder
from dualduty.report.figure_file import write_figure
from dualduty.report.time_series import draw_case
from dualduty.signals import CORNER_LABELS, SIDES
from dualduty.trace import FLAG_LABELS, Trace
from dualduty.trial.detections import summary_lines
from dualduty.trial.folder import WorkFolder, work_folder_of
from dualduty.trial.logs import Replayed, replay_run
from dualduty.trial.run_sheet import read_run_sheet
from dualduty.trial.sameness import driver_file, grounding, named_driver, sameness_of
from replay.sameness.grounding import AGREE, judge
from replay.sameness.sameness import SamenessRules


def run(  # noqa: PLR0913 - as the command
    log: str,
    calibration: str,
    folder: Path | None,
    *,
    window: tuple[float, float],
    out: Path | None,
    plugins: tuple[Path, ...],
    quiet: bool,
) -> None:
    """Replay one run, write its pictures, say who decided how long."""
    plug_ins = discover(plugins)
    path = WorkFolder(folder or Path()).calibration(calibration)
    work = work_folder_of(path, folder)
    sheet = read_run_sheet(Path(log) if Path(log).suffix == ".toml" else work.log_files((log,))[0])
    target = out or Path("results") / f"replay_{sheet.name}"
    check_result_folder(target)
    read = read_calibration(path, plug_ins)
    tell_noticed(read)
    with progress(f"replaying {sheet.name}", quiet=quiet) as step:
        replayed = replay_run(sheet, [read], plug_ins, progress=step)
    _check_window(replayed.traces[0], window)
    with result_folder(target) as draft:
        for name, figure in draw_case(replayed.traces[0], 0, car=read.car, window=window).items():
            write_figure(figure, draft / f"{name}.png")
    _tell(replayed, _grounding(replayed, work, plug_ins, quiet=quiet), target)


def _grounding(replayed: Replayed, work: WorkFolder, plug_ins: PlugIns, *, quiet: bool) -> str:
    """Whether claims about this log are grounded; what drove it is replayed too where it is another calibration."""
    found = grounding(replayed)
    if not math.isnan(found.agreement) or not named_driver(replayed.sheet):
        return found.text
    try:
        path = driver_file(replayed.sheet, work)
    except BadInput:
        return found.text
    with progress(f"replaying {path.stem}, which drove", quiet=quiet) as step:
        driver = read_calibration(path, plug_ins)
        return judge(sameness_of(replayed.sheet, driver, plug_ins, SamenessRules(), step)[1], AGREE).text


def _check_window(trace: Trace, window: tuple[float, float]) -> None:
    lasts = trace.header.dt * sum(chunk.ticks for chunk in trace)
    if window[0] >= lasts:
        raise BadInput("--from", f"expected a time within the log, which lasts {lasts:.2f} s, came {window[0]:g} s")


def _tell(replayed: Replayed, grounded: str, target: Path) -> None:
    out = console()
    out.print(
        f"{replayed.sheet.name} replayed through {replayed.traces[0].header.cases[0].candidate}; driven by {replayed.sheet.driven_by}",
        markup=False,
    )
    out.print(grounded, markup=False)
    out.print("Ride, landing and travel of a log belong to the calibration that drove it; only states and commands are this calibration's.")
    out.print(_deciders(replayed.traces[0]))
    for line in (
        *(summary_lines(replayed.checks[0]) if replayed.checks else ()),
        *(f"noticed: {line}" for line in replayed.notice_lines()),
    ):
        out.print(f"  {line}", markup=False)
    out.print(f"pictures in {target}", markup=False)


def _deciders(trace: Trace) -> Table:
    """Share of time in which each layer decided, by side, and of each supervisor flag."""
    time: dict[str, Counter[str]] = {side: Counter() for side in SIDES}
    total = 0
    for chunk in trace:
        total += chunk.ticks * len(CORNER_LABELS)
        for side in SIDES:
            for index, name in enumerate(trace.header.layers):
                time[side][name] += int((chunk.layer[side] == index).sum())
            for flag, label in FLAG_LABELS.items():
                time[side][f"flag: {label}"] += int(np.count_nonzero(chunk.flags[side] & flag))
    table = Table("decided by", *(f"{side}, share of time" for side in SIDES), box=None, pad_edge=False)
    for name in time["compression"]:
        shares = [100 * time[side][name] / max(total, 1) for side in SIDES]
        if any(shares) or not name.startswith("flag"):
            table.add_row(name, *(f"{share:.1f} %" for share in shares))
    return table
