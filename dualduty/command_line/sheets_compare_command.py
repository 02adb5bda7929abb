"""Lay sheets over each other."""

from __future__ import annotations

from pathlib import Path

import click

from dualduty.command_line.options import FILE, Within


@click.command(help="Compare sheets (files, or folders of them) axle by axle: the middle of three or more dampers, or the nominal map, and "
                    "a corridor of 5 % or more about it. Exit code 1 when one is odd.")  # fmt: skip
@click.argument("where", nargs=-1, required=True, type=FILE)
@click.option("--nominal", type=FILE, metavar="VEHICLE.toml", help="judge against the nominal maps of this vehicle")
@click.option("--within", type=Within(0.5, 50.0), default=5.0, metavar="PERCENT", show_default=True,
              help="least half width of the corridor; scatter between dampers and repeats may widen it")  # fmt: skip
@click.option("--out", type=FILE, help="also write pictures into this folder")
def command(where: tuple[Path, ...], nominal: Path | None, within: float, out: Path | None) -> int:
    """1 when a damper leaves its corridor."""
    from dualduty.car import read_car
    from dualduty.command_line.sheets_run import tell_notices
    from dualduty.dyno.overlay import Rule, compare
    from dualduty.dyno.reading import read_sheets
    from dualduty.files import check_result_folder

    if out is not None:
        check_result_folder(out)
    sheets = read_sheets(where)
    found = compare(sheets, read_car(nominal) if nominal else None, Rule(share=within / 100.0))
    click.echo(
        f"{len(sheets)} sheets; dampers of one axle scatter by {100 * found.scatter:.1f} %" if found.scatter else f"{len(sheets)} sheets"
    )
    tell_notices(found.notices)
    for odd in found.odd:
        click.echo(f"odd: {odd.sentence()}" if not odd.other else f"differ: {odd.sentence()}")
    if not found.odd:
        click.echo("no damper leaves its corridor")
    if out is not None:
        from dualduty.command_line.sheets_pictures import write_comparison

        write_comparison(found, sheets, out)
        click.echo(f"wrote {out}")
    return 1 if found.odd else 0
