"""Write the skeleton of a new plug-in."""

from __future__ import annotations

from pathlib import Path

import click

from dualduty.command_line.options import FILE


@click.command(help="Write a new law, detector or estimator NAME (RoughHold or rough_hold) that runs as it stands: in tick form, "
                    "with formula, source and conditions left for you to say. Nothing is ever overwritten.")  # fmt: skip
@click.argument("kind", type=click.Choice(["law", "detector", "estimator"]))
@click.argument("name")
@click.option("--into", type=FILE, help="folder; default: strategies/laws, /detectors or /estimators of a working folder, else this one")
def command(kind: str, name: str, into: Path | None) -> None:
    """Write one file."""
    from dualduty.command_line.console import told_when_compiling

    with told_when_compiling({}):
        from dualduty.discovery import discover
        from dualduty.new_plug_in import names_of, usual_folder, write_plug_in
        from dualduty.signals import SIGNALS

        plug_ins = discover()
    taken = {*plug_ins.by_name, *plug_ins.given, *SIGNALS}
    path = write_plug_in(kind, name, into if into is not None else usual_folder(kind, Path()), taken)
    click.echo(f"made {path}: {kind} {names_of(name)[0]}; it runs as it stands")
    click.echo(f"next: say in it what it does, then dualduty check-plug-in {path}")
