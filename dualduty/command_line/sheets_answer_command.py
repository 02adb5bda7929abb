"""Hold new sheets against a request."""

from __future__ import annotations

from pathlib import Path

import click

from dualduty.command_line.options import FILE


@click.command(help="Hold new sheets (files, or folders of them) against REQUEST: each wish met or not, and what moved without being asked "
                    "for. Exit code 1 unless everything came as asked.")  # fmt: skip
@click.argument("request", type=FILE)
@click.argument("where", nargs=-1, required=True, type=FILE)
@click.option("--out", type=FILE, help="also draw asked against delivered into this PNG")
def command(request: Path, where: tuple[Path, ...], out: Path | None) -> int:
    """1 when a wish is not met or something else moved."""
    from dualduty.dyno.base_maps import read_base
    from dualduty.dyno.reading import read_sheets
    from dualduty.dyno.request import read_request
    from dualduty.dyno.request_answer import answer
    from dualduty.dyno.request_target import targets
    from dualduty.errors import BadInput

    if out is not None and out.suffix != ".png":
        raise BadInput("--out", f"expected the name of a PNG file, came {out.name!r}")
    read = read_request(request)
    found = answer(read, targets(read, read_base(read)), read_sheets(where))
    for sentence in found.sentences():
        click.echo(sentence)
    click.echo("all as asked" if found.all_met else "not as asked")
    if out is not None and found.compared:
        from dualduty.report.dampers.request_picture import draw_answer
        from dualduty.report.figure_file import write_figure

        write_figure(draw_answer(found), out)
        click.echo(f"wrote {out}")
    return 0 if found.all_met else 1
