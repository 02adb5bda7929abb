"""A command group that imports a command only when it is called."""

from __future__ import annotations

import difflib
import importlib
from collections.abc import Mapping
from typing import Any

import click


class LazyGroup(click.Group):
    """Lists its commands with their one-line help without importing them."""

    def __init__(self, *args: Any, commands_offered: Mapping[str, str] | None = None, **more: Any) -> None:
        super().__init__(*args, **more)
        self.offered = dict(commands_offered or {})

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Names in the order of the job."""
        return list(self.offered)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command, imported now; None when there is none of this name."""
        if cmd_name not in self.offered:
            return None
        module = importlib.import_module(f"dualduty.command_line.{cmd_name.replace('-', '_')}_command")
        command: click.Command = module.command
        return command

    def resolve_command(self, ctx: click.Context, args: list[str]) -> tuple[str | None, click.Command | None, list[str]]:
        """The command named first; a near name is suggested for one that is not known."""
        if args and args[0] not in self.offered and not args[0].startswith("-"):
            near = difflib.get_close_matches(args[0], self.offered, n=1)
            ctx.fail(
                f"no such command {args[0]!r}"
                + (f"; did you mean {near[0]!r}?" if near else f"; expected one of {', '.join(self.offered)}")
            )
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Names and one-line helps."""
        with formatter.section("Commands"):
            formatter.write_dl(list(self.offered.items()))
