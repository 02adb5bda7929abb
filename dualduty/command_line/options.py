"""Options that several commands share."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

Decorator = Callable[[Callable[..., Any]], Callable[..., Any]]
FILE = click.Path(path_type=Path)


class Within(click.FloatRange):
    """A number within limits; not a number is within none."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """As any range of numbers, without the hole."""
        found: float = super().convert(value, param, ctx)
        if found != found:  # noqa: PLR0124 - only what is not a number differs from itself
            self.fail(f"{value} is not a number", param, ctx)
        return found


plugin: Decorator = click.option(
    "--plugin", "plugins", multiple=True, type=FILE, metavar="FILE.py", help="take in plug-ins from this file; may be repeated"
)
folder: Decorator = click.option("--folder", type=FILE, help="working folder; default: the one the calibration lies in")
section: Decorator = click.option("--section", "sections", multiple=True, metavar="NAME", help="only this section; may be repeated")
mode: Decorator = click.option("--mode", "modes", multiple=True, metavar="NAME", help="only this drive mode; may be repeated")
log: Decorator = click.option("--log", "logs", multiple=True, metavar="NAME", help="only this log; may be repeated")
baseline: Decorator = click.option(
    "--baseline", metavar="CALIBRATION", help="what to compare with; default: the file the candidate starts from"
)
vehicle: Decorator = click.option(
    "--vehicle", metavar="VEHICLE", help="vehicle type or one vehicle (file, or name in the folder); default: the calibration's"
)
payload: Decorator = click.option("--payload", metavar="NAME", help="a payload of the vehicle's file, carried throughout")
quiet: Decorator = click.option("--quiet", is_flag=True, help="no progress bar")
this_folder: Decorator = click.option("--folder", type=FILE, help="working folder; default: this one, or the shipped demo")
study_calibration: Decorator = click.option(
    "--calibration", metavar="CALIBRATION", default="marram_baseline", show_default=True, help="calibration (file, or name)"
)
study_vehicle: Decorator = click.option(
    "--vehicle", metavar="VEHICLE", default="marram_2", show_default=True, help="vehicle type or one vehicle (file, or name)"
)
study_seeds: Decorator = click.option("--seeds", type=click.IntRange(1, 50), help="only so many of the seeds")
