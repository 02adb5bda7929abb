"""Where the shipped calibration data lie: beside the packages in a clone, inside the wheel when installed."""

from __future__ import annotations

from pathlib import Path

from dualduty.errors import BadInput


def shipped_calibrations() -> Path:
    """Folder with the shipped vehicles, strategies, sections, channel maps and marked demo logs."""
    here = Path(__file__).resolve().parent
    installed = here / "_data" / "calibrations"
    beside = here.parent / "calibrations"
    for folder in (installed, beside):
        if folder.is_dir():
            return folder
    raise BadInput(beside, "expected the folder of shipped calibrations here; the installation is not complete")
