"""How far the log side reaches, beside what is wanted of it: `python tests/bench/reach.py [HOURS]`; prints a table, asserts nothing.

A recording of HOURS (10) is made in a temporary folder by laying an invented demo log end to end, 200 samples a second in a
Parquet file, with its marks. Each line is measured in a process of its own. A shared machine may be several times slower.
"""

from __future__ import annotations

import json
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import nullcontext
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from dualduty.calibration.model import Calibration
from dualduty.calibration.read import read_calibration
from dualduty.discovery import PlugIns, discover
from dualduty.shipped import shipped_calibrations
from dualduty.trial.checked_log import Checker
from dualduty.trial.clock import DT
from dualduty.trial.run_sheet import RunSheet, read_run_sheet
from dualduty.trial.settled_marks import settled_marks
from dualduty.trial.swept_parameter import swept_parameter
from dualduty.trial.threshold_sweep import SweepPlan, marked_logs, sweep
from replay.check.detector_gates import Gates
from replay.health.check_log import check_log
from replay.marks.marks import read_marks, write_marks
from replay.open_loop import replay
from strategies.controller import Strategy

Figures = dict[str, float]
HOUR = 3600.0
TILES = 20  # demo logs in a row group
WANTED = (
    ("replay", 10.0, "readers and full strategy", 30.0),
    ("health", 10.0, "health of the same log", 30.0),
    ("check", 1.0, "check of marked logs", 5.0),
    ("sweep", 1.0, "sweep of 200 threshold values", 10.0),
)


def demo() -> tuple[Calibration, PlugIns]:
    """The shipped baseline."""
    plug_ins = discover()
    return read_calibration(shipped_calibrations() / "strategies" / "marram_baseline.toml", plug_ins), plug_ins


def made(folder: Path, hours: float) -> RunSheet:
    """A run of so many hours, laid end to end from a demo log, with its marks."""
    import pandas as pd
    import pyarrow as pa
    import pyarrow.parquet as pq

    sheet = read_run_sheet(shipped_calibrations() / "logs" / "quarry_loop_dash.toml")
    frame = pd.read_csv(sheet.log, comment="#")
    period = float(frame["time_s"].iloc[-1] + np.median(np.diff(frame["time_s"])))
    count = max(round(hours * HOUR / period), 1)
    path = folder / "long.parquet"
    table = pa.Table.from_pandas(frame, preserve_index=False)
    place = table.column_names.index("time_s")
    with pq.ParquetWriter(path, table.schema) as writer:
        for first in range(0, count, TILES):
            shifts = [n * period for n in range(first, min(first + TILES, count))]
            tiles = [table.set_column(place, "time_s", pa.array(frame["time_s"] + shift)) for shift in shifts]
            writer.write_table(pa.concat_tables(tiles))
    marks = folder / "long.marks.csv"
    assert sheet.marks is not None
    once = read_marks(sheet.marks)
    write_marks(marks, [replace(one, start=one.start + n * period, end=one.end + n * period) for n in range(count) for one in once])
    return replace(sheet, name="long", log=path, marks=marks)


def measured(work: Callable[[], Any]) -> Figures:
    """Seconds on the clock and of all processors, and the peak of the process in MB."""
    clock, processor = time.perf_counter(), time.process_time()
    work()
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (1e6 if sys.platform == "darwin" else 1e3)
    return {"seconds": time.perf_counter() - clock, "processor": time.process_time() - processor, "peak_mb": peak}


def work_of(name: str, sheet: RunSheet) -> Callable[[], Any]:
    """What is measured."""
    calibration, plug_ins = demo()
    if name == "replay":
        strategy = Strategy([calibration], [0], plug_ins, DT)
        return lambda: sum(chunk.ticks for chunk in replay(sheet.open(), strategy, keep_signals=False))
    if name == "health":
        return lambda: check_log(sheet.open())
    if name == "check":
        return lambda: Checker(calibration, plug_ins).check_log(sheet, settled_marks(sheet)[0])
    parameter = swept_parameter("Airborne.sure_evidence_ms", np.linspace(0.0, 200.0, 200), calibration, plug_ins)
    plan = SweepPlan(calibration, (parameter,), "airborne", Gates())
    return lambda: sweep(plan, marked_logs([sheet]), plug_ins, lambda _: nullcontext(lambda _: None))


def probe(name: str, hours: float) -> Figures:
    """One line: kernels are compiled or loaded on a short log first."""
    with tempfile.TemporaryDirectory() as folder:
        work_of(name, made(Path(folder), 0.01))()
        return measured(work_of(name, made(Path(folder), hours)))


def main(share: float) -> None:
    """Print every line, beside what is wanted for its length."""
    for name, hours, said, wanted in WANTED:
        length = hours * share
        command = [sys.executable, __file__, "--probe", name, str(length)]
        found: Figures = json.loads(subprocess.run(command, capture_output=True, text=True, check=True).stdout)
        line = f"{said}, {length:.3g} h: {found['seconds']:.1f} s ({found['processor']:.1f} s of processors), {found['peak_mb']:.0f} MB"
        sys.stdout.write(f"{line}; {found['seconds'] / (wanted * share):.2f} of the {wanted * share:.3g} s wanted\n")


if __name__ == "__main__":
    if sys.argv[1:2] == ["--probe"]:
        json.dump(probe(sys.argv[2], float(sys.argv[3])), sys.stdout)
    else:
        main(float(sys.argv[1]) / 10.0 if len(sys.argv) > 1 else 1.0)
