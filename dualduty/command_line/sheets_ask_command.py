"""Write a request to the damper group."""

from __future__ import annotations

from pathlib import Path

import click

from dualduty.command_line.options import FILE


@click.command(help="Work the wishes of REQUEST (a TOML file) into force maps: one page, a CSV for each asked map, a picture.")
@click.argument("request", type=FILE)
@click.option("--out", type=FILE, required=True, help="folder to write into")
def command(request: Path, out: Path) -> None:
    """Write the request's folder."""
    from dualduty.command_line.sheets_run import tell_notices
    from dualduty.dyno.base_maps import read_base
    from dualduty.dyno.request import read_request
    from dualduty.dyno.request_target import targets
    from dualduty.files import check_result_folder
    from dualduty.report.dampers.request_folder import write_request

    check_result_folder(out)
    read = read_request(request)
    wanted = targets(read, read_base(read))
    for wish in read.wishes:
        click.echo(f"wish {wish.number}: {wish.asked} (tolerance {100 * wish.tolerance:g} %)")
    tell_notices(notice for target in wanted for notice in target.notices)
    write_request(read, wanted, out)
    click.echo(f"wrote {out}")
