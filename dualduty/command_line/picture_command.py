"""Draw a section, or all of them on one sheet."""

from __future__ import annotations

from pathlib import Path

import click

from dualduty.command_line.options import FILE, this_folder


@click.command(help="Draw SECTION (a section file, or its name in the working folder): ground of both tracks, wanted speed, curvature, "
                    "steering and pedals; or every section on one sheet.")  # fmt: skip
@click.argument("section", required=False)
@click.option("--all", "every", is_flag=True, help="all sections of the folder on one sheet")
@click.option("--out", type=FILE, help="PNG to write; default: the section's name, or sections.png, beside where you are")
@this_folder
def command(section: str | None, every: bool, out: Path | None, folder: Path | None) -> None:
    """Write one PNG."""
    from dualduty.errors import BadInput
    from dualduty.trial.folder import here_or_shipped

    if (section is None) != every:
        raise BadInput("picture", f"expected either SECTION or --all, came {'both' if every else 'neither'}")
    work = here_or_shipped(folder)
    files = work.section_files(()) if section is None else [work.section(section)]
    path = _written(files, out, "sections" if every else None)
    click.echo(f"wrote {path}")


def _written(files: list[Path], out: Path | None, sheet: str | None) -> Path:
    """The picture of one section, or of all on a sheet of that name."""
    from dualduty.errors import BadInput
    from dualduty.files import whole_file
    from plant.section import read_section
    from plant.section_picture import section_figure
    from plant.section_sheet import sheet_figure

    read = [read_section(file) for file in files]
    path = out if out is not None else Path(f"{sheet or read[0].name}.png")
    if path.suffix != ".png":
        raise BadInput("--out", f"expected the name of a PNG file, came {path.name!r}")
    with whole_file(path) as draft:
        (sheet_figure(read) if sheet else section_figure(read[0])).savefig(draft, format="png", dpi=120)
    return path
