"""Everything about dyno sheets, a command of its own for each job."""

from __future__ import annotations

import importlib
from typing import Final

import click

from dualduty.command_line.lazy import LazyGroup

COMMANDS: Final = {
    "check": "read sheets, tell every problem and every notice",
    "compare": "lay the dampers of one or more cars over each other and name the odd one",
    "change": "one damper before and after: what changed beyond scatter",
    "ask": "write a request to the damper group: the asked force maps",
    "answer": "hold new sheets against a request: what came, what didn't, what else moved",
    "map": "write the force maps of a sheet as the tables a vehicle file names",
}


class SheetsGroup(LazyGroup):
    """Finds `sheets check` in sheets_check_command.py."""

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command, imported now; None when there is none of this name."""
        if cmd_name not in self.offered:
            return None
        command: click.Command = importlib.import_module(f"dualduty.command_line.sheets_{cmd_name}_command").command
        return command


@click.group(cls=SheetsGroup, commands_offered=COMMANDS, help="Dyno sheets of single dampers. Files are CSV; a folder stands for "
             "the sheets directly in it. Exit code 1 when a damper is odd or a wish is not met, 2 when a file can't be used.")  # fmt: skip
def command() -> None:
    """Group of the commands about sheets."""
