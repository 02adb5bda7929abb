"""Everything about the marks of a log, a command of its own for each job."""

from __future__ import annotations

import importlib
from typing import Final

import click

from dualduty.command_line.lazy import LazyGroup

COMMANDS: Final = {
    "show": "list the marks of a log, tell how far people agree, draw them",
    "propose": "add proposals, by the detectors of a calibration or by looking at the whole log afterwards",
    "accept": "take marks for true",
    "reject": "take marks for wrong; they stay, so that nobody proposes them again",
    "move": "give a mark another start or end",
    "add": "mark a state by hand",
    "note": "tie a word to a time",
    "presses": "take in the presses of the driver's marker button",
}


class MarksGroup(LazyGroup):
    """Finds `marks show` in marks_show_command.py."""

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command, imported now; None when there is none of this name."""
        if cmd_name not in self.offered:
            return None
        command: click.Command = importlib.import_module(f"dualduty.command_line.marks_{cmd_name}_command").command
        return command


@click.group(cls=MarksGroup, commands_offered=COMMANDS, help="Marks of recorded logs: intervals in which someone knows a state to be "
             "true, in a CSV file beside the log. LOG is a run file, or its name in the working folder. A mark is called state@seconds, "
             "as airborne@12.34, or 'wheel_off@3.2 rear_left' with its place.")  # fmt: skip
def command() -> None:
    """Group of the commands about marks."""
