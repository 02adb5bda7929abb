"""Draw a section."""

from __future__ import annotations

from pathlib import Path

import click

from dualduty.command_line.options import FILE


@click.command(help="Draw SECTION (a section file): ground of both tracks, wanted speed, curvature, pedals.")
@click.argument("section", type=FILE)
@click.option("--out", type=FILE, help="PNG to write; default: the section's name beside where you are")
def command(section: Path, out: Path | None) -> None:
    """Write one PNG."""
    from dualduty.errors import BadInput
    from dualduty.files import whole_file
    from plant.section import read_section
    from plant.section_picture import save_section_picture

    read = read_section(section)
    path = out if out is not None else Path(f"{read.name}.png")
    if path.suffix != ".png":
        raise BadInput("--out", f"expected the name of a PNG file, came {path.name!r}")
    with whole_file(path) as draft:
        save_section_picture(read, draft)
    click.echo(f"wrote {path}")
