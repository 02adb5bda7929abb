"""What the commands about sheets share."""

from __future__ import annotations

from collections.abc import Iterable

import click

from dualduty.dyno.overlay import corner_label
from dualduty.dyno.sheet import Sheet
from dualduty.signals import SIDES


def tell_sheet(sheet: Sheet) -> None:
    """One damper in a line, its notices beneath."""
    firm = ", ".join(f"{side} {float(sheet.maps[side].forces[-1, -1]) / 1e3:.2f} kN" for side in SIDES)
    cross = ", ".join(f"{side} {100 * sheet.crosstalk[side]:+.1f} %" for side in SIDES)
    click.echo(
        f"{sheet.serial}  {sheet.vehicle} {corner_label(sheet.corner)}, {sheet.build}: at {sheet.top_speed:.2g} m/s and full duty {firm}; "
        f"gas {sheet.gas_force:.0f} N, friction {sheet.friction:.0f} N; crosstalk {cross}"
    )
    tell_notices(sheet.notices)


def tell_notices(notices: Iterable[str]) -> None:
    """A line each."""
    for notice in notices:
        click.echo(f"  noticed: {notice}")
