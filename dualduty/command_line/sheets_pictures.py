"""Writing the pictures of sheets; imported only where one is asked for."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from dualduty.dyno.overlay import Comparison
from dualduty.dyno.sheet import Sheet
from dualduty.files import result_folder
from dualduty.report.dampers.crosstalk_picture import draw_crosstalk
from dualduty.report.dampers.overlay_picture import draw_deviation, draw_overlay
from dualduty.report.figure_file import write_figure


def write_comparison(found: Comparison, sheets: Sequence[Sheet], out: Path) -> None:
    """Forces, deviations, and the crosstalk of each damper."""
    with result_folder(out) as draft:
        write_figure(draw_overlay(found), draft / "forces.png")
        write_figure(draw_deviation(found), draft / "deviation.png")
        for sheet in sheets:
            name = "".join(letter if letter.isalnum() or letter in "-_" else "_" for letter in sheet.serial)
            write_figure(draw_crosstalk(sheet), draft / f"crosstalk_{name}.png")
