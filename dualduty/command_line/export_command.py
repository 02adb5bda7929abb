"""Write a candidate for the vehicle."""

from __future__ import annotations

from pathlib import Path

import click

from dualduty.command_line import options


@click.command(help="Write table and manifest of CANDIDATE for the vehicle, limits checked first. Nothing is tried; use `try` for that.")
@click.argument("candidate")
@options.baseline
@options.folder
@click.option("--out", type=options.FILE, help="folder to write into; default: export/NAME-OF-CANDIDATE")
@options.plugin
def command(candidate: str, baseline: str | None, folder: Path | None, out: Path | None, plugins: tuple[Path, ...]) -> None:
    """Export without a trial."""
    from dualduty.cautions import CAUTIONS
    from dualduty.command_line.console import counted
    from dualduty.command_line.noticed import tell_noticed
    from dualduty.discovery import discover
    from dualduty.export.candidate import export_candidate
    from dualduty.trial.folder import WorkFolder
    from dualduty.trial.trial import read_pair

    work = WorkFolder(folder or Path())
    path = work.calibration(candidate)
    pair = read_pair(path, work.calibration(baseline) if baseline else None, discover(plugins))
    written = export_candidate(pair.candidate, pair.baseline, out or Path("export") / path.stem)
    click.echo(
        f"table    {written.table}\nmanifest {written.manifest}\n"
        f"{counted(len(written.changes), 'value')} changed against {pair.baseline.name}:"
    )
    for change in written.changes:
        click.echo(f"  {change}")
    tell_noticed(pair.baseline, pair.candidate)
    click.echo(f"{len(written.limits)} limits checked, all hold. Not tried in this run. {CAUTIONS[0]}")
