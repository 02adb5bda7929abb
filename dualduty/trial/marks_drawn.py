"""The marks of a run as a picture over what the log shows."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Final

from dualduty.errors import BadInput
from dualduty.report import look
from dualduty.report.figure_file import write_figure
from dualduty.report.marks_picture import Panel, draw_marks
from dualduty.signals import SIGNALS
from dualduty.trial.run_sheet import RunSheet
from replay.marks.mark import Mark
from replay.raw_signals import RawSignal, raw_signals

SHOWN: Final = {"shaft_travel": "shaft travel", "specific_force_z": "vertical specific force"}


def draw_run(sheet: RunSheet, marks: Sequence[Mark], window: tuple[float, float], out: Path) -> None:
    """Draw marks over travels and specific force of a window [s], and write the picture."""
    if out.suffix.lower() != ".png":
        raise BadInput(f"--out {out}", "expected the name of a PNG file")
    found = raw_signals(sheet.open(), tuple(SHOWN))
    lasts = max((float(row.time[-1]) for rows in found.values() for row in rows), default=0.0)
    if window[0] >= lasts > 0.0:
        raise BadInput("--from", f"expected a time within the log, which lasts {lasts:.2f} s, came {window[0]:g} s")
    seen = (window[0], min(window[1], max(lasts, window[0] + 1.0)))
    panels = [_panel(name, rows) for name, rows in found.items()]
    under = f"{sheet.note} {seen[0]:.1f} to {seen[1]:.1f} s.".strip()
    write_figure(draw_marks(marks, panels, seen, f"Marks of {sheet.name}", under), out)


def _panel(name: str, rows: Sequence[RawSignal]) -> Panel:
    said = SIGNALS[name].said
    return Panel(SHOWN[name], said, tuple((row.time, look.in_said(row.values, said)) for row in rows))
