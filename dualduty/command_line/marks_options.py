"""Options that the commands about marks share."""

from __future__ import annotations

from typing import Final

import click

from dualduty.command_line.options import FILE, Decorator, Within

SECONDS: Final = Within(0.0, 1e9)  # since the log's first stamp; no log lasts as long

folder: Decorator = click.option("--folder", type=FILE, help="working folder; default: this one")
who: Decorator = click.option("--who", default="", metavar="NAME", help="who says so")
states: Decorator = click.option("--state", "states", multiple=True, metavar="NAME", help="only this state; may be repeated")


def place(ctx: click.Context, param: click.Parameter, value: str) -> str:
    """A corner, an axle or a side as files write it; front-left is front_left."""
    from dualduty.signals import ROLES

    said = value.replace("-", "_")
    if said and said not in ROLES:
        raise click.BadParameter(f"expected one of {', '.join(ROLES)}, came {value!r}", ctx, param)
    return said


def share(ctx: click.Context, param: click.Parameter, value: str) -> float:
    """How sure: yes, no, or per cent with or without the sign; 0 to 1."""
    from replay.marks.mark_row import sure_of

    found = sure_of(value)
    if isinstance(found, str):
        raise click.BadParameter(found, ctx, param)
    return found
