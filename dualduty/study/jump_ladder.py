"""Jumps from a hop to a long flight: the library's kicker at other lip heights and speeds, since the library itself flies little."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any, Final

from dualduty.errors import BadInput
from dualduty.study.drives import Lane
from plant.section import Section, read_section

LIP_HEIGHTS: Final = (0.25, 0.35, 0.45, 0.55, 0.70)  # m
SPEEDS: Final = (38 / 3.6, 44 / 3.6, 50 / 3.6, 56 / 3.6)  # m/s


def jump_ladder(kicker: Path) -> tuple[Lane, ...]:
    """Every lip height at every speed, from a section with one kicker on it."""
    section = read_section(kicker)
    if [placed.kind for placed in section.ground].count("kicker") != 1:
        raise BadInput(f"{kicker}: ground", "expected exactly one kicker to vary")
    return tuple(_lane(section, lip, speed) for lip in LIP_HEIGHTS for speed in SPEEDS)


def _lane(section: Section, lip: float, speed: float) -> Lane:
    ground = tuple(replace(placed, piece=_higher(placed.piece, lip)) if placed.kind == "kicker" else placed for placed in section.ground)
    drive = replace(section.drive, start_speed=speed)
    name = f"{section.name}_{1e3 * lip:.0f}_mm_{3.6 * speed:.0f}_km_h"
    return Lane.of(replace(section, name=name, ground=ground, drive=drive))


def _higher(piece: Any, lip: float) -> Any:
    return replace(piece, lip_height=lip)
