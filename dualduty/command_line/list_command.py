"""List what there is."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import click

from dualduty.command_line.options import plugin, this_folder

Row = tuple[str, ...]


@click.command(help="List plug-ins (what would run on the vehicle), sections, measures, signals, calibrations or vehicles.")
@click.argument("what", type=click.Choice(["plug-ins", "sections", "measures", "signals", "calibrations", "vehicles"]))
@this_folder
@plugin
def command(what: str, folder: Path | None, plugins: tuple[Path, ...]) -> None:
    """Print one table."""
    from rich.table import Table

    from dualduty.command_line.console import console

    listing: dict[str, Callable[[], Iterator[Row]]] = {
        "plug-ins": lambda: _plug_ins(plugins),
        "sections": lambda: _sections(_root(folder)),
        "measures": _measures,
        "signals": _signals,
        "calibrations": lambda: _calibrations(_root(folder)),
        "vehicles": lambda: _vehicles(_root(folder)),
    }
    rows = listing[what]()
    table = Table(box=None, pad_edge=False, show_edge=False)
    for head in next(rows):
        table.add_column(head, overflow="fold")
    for row in rows:
        table.add_row(*row)
    console().print(table)


def _root(folder: Path | None) -> Path:
    from dualduty.trial.folder import here_or_shipped

    return here_or_shipped(folder).root


def _plug_ins(plugins: tuple[Path, ...]) -> Iterator[Row]:
    from dualduty.discovery import discover

    found = discover(plugins)
    yield ("kind", "name", "what it is", "reads", "gives", "parameters")
    for entry in sorted(found.by_name.values(), key=lambda entry: (entry.kind, entry.name)):
        gives = ", ".join(given.name for given in entry.gives) or entry.returns.lower()
        yield (entry.kind, entry.name, entry.summary, ", ".join(entry.reads), gives, ", ".join(entry.parameters))


def _sections(root: Path) -> Iterator[Row]:
    from plant.section import list_sections, read_section

    yield ("section", "lasts", "everyday", "intent")
    for path in list_sections(root / "sections"):
        section = read_section(path)
        yield (section.name, f"{section.duration:g} s", "yes" if section.everyday else "", section.intent)


def _measures() -> Iterator[Row]:
    from dualduty.scoring.measure import discover_measures
    from dualduty.units import unit

    yield ("measure", "unit", "better", "what it is", "source")
    for measure in discover_measures().values():
        yield (measure.name, unit(measure.said).label, measure.direction, measure.label, measure.source)


def _signals() -> Iterator[Row]:
    from dualduty.signals import SIGNALS
    from dualduty.units import unit

    yield ("signal", "unit", "corners", "controller sees it", "what it is")
    for signal in SIGNALS.values():
        yield (signal.name, unit(signal.said).label, str(signal.corners), "yes" if signal.seen else "no", signal.meaning)


def _calibrations(root: Path) -> Iterator[Row]:
    from dualduty.errors import BadInput
    from dualduty.toml_file import read_toml

    if not (root / "strategies").is_dir():
        raise BadInput(root, "expected a working folder with a folder strategies/ in it, found none")
    yield ("file", "name", "starts from", "note")
    for path in sorted((root / "strategies").glob("*.toml")):
        document = read_toml(path)
        yield (path.name, str(document.get("name", "")), str(document.get("starts_from", "")), str(document.get("note", "")))


def _vehicles(root: Path) -> Iterator[Row]:
    from dualduty.toml_file import read_toml

    yield ("name", "kind", "what it is")
    for path in sorted((root / "vehicles").glob("*.toml")):
        document = read_toml(path)
        kind = f"one vehicle of {document['type']}" if "type" in document else "vehicle type"
        yield (path.stem, kind, str(document.get("provenance", "")))
        for load in document.get("payload", []):
            yield (
                f"  {load.get('name', '')}",
                "payload",
                f"{load.get('mass_kg', '')} kg, {load.get('ahead_m', '')} m ahead of the centre of gravity",
            )
    for path in sorted((root / "vehicles" / "overlays").glob("*.toml")):
        yield (path.stem, "hardware overlay", str(read_toml(path).get("intent", "")))
