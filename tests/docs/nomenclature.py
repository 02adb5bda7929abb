"""The nomenclature table of DEVELOPERS.md, made from the signals and from what the shipped plug-ins give."""

from __future__ import annotations

from collections.abc import Iterator

from dualduty.discovery import discover
from dualduty.signals import CONTROLLER_SIGNALS, INSTRUMENTATION, TRUTH
from dualduty.units import UNITS

HEAD = "| name | unit | shown in | corners | meaning | from |"
GROUPS = (("signal", CONTROLLER_SIGNALS), ("instrumentation", INSTRUMENTATION), ("truth", TRUTH))


def table() -> str:
    """The whole table, as Markdown."""
    return "\n".join([HEAD, "|---|---|---|---|---|---|", *_signals(), *_given()])


def _signals() -> Iterator[str]:
    for group, signals in GROUPS:
        for one in signals:
            yield _row(one.name, one.unit, _label(one.said), one.corners, one.meaning, group)


def _given() -> Iterator[str]:
    for found in sorted(discover().by_name.values(), key=lambda entry: (entry.kind != "estimator", entry.name)):
        for one in found.gives:
            unit = "state" if one.is_state else one.unit
            yield _row(one.name, unit, "", one.corners, one.meaning, f"{found.kind} {found.name}")


def _label(said: str) -> str:
    return UNITS[said].label if said in UNITS else said


def _row(*cells: object) -> str:
    return "| " + " | ".join(f"`{cell}`" if index == 0 else str(cell) for index, cell in enumerate(cells)) + " |"
