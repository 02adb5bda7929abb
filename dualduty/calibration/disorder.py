"""Values that must stand in order: a switch-off level below its switch-on level, lowest below highest."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np

from dualduty.calibration.model import LayerPlan
from dualduty.calibration.settings import Settings
from dualduty.discovery import PlugIns
from dualduty.errors import BadInput
from dualduty.units import from_si, unit


def disorder(
    settings: Mapping[str, Settings], layers: Iterable[LayerPlan], plug_ins: PlugIns, modes: tuple[str, ...], file: str
) -> list[BadInput]:
    """Every pair that a plug-in's `ordered` names, smaller first, and that is out of order somewhere."""
    classes = {name: found.cls for name, found in plug_ins.by_name.items()} | plug_ins.fixtures
    kinds = {name: f"{found.kind}s." for name, found in plug_ins.by_name.items()}
    places = [(kinds.get(name, "") + name, name, entry) for name, entry in settings.items()]
    places += [(f"layers.{layer.name}.{law}", law, entry) for layer in layers for law, entry in layer.law_settings.items()]
    return [
        problem
        for place, name, entry in places
        for low, high in getattr(classes[name], "ordered", ())
        for problem in _crossed(entry, (low, high), modes, f"{file}: {place}")
    ]


def _crossed(settings: Settings, pair: tuple[str, str], modes: tuple[str, ...], where: str) -> list[BadInput]:
    low, high = settings[pair[0]], settings[pair[1]]
    wrong = np.argwhere(low.values > high.values)
    if not len(wrong):
        return []
    mode, corner = wrong[0]
    values = [
        f"{from_si(value.values[mode, corner], value.declaration.said):.6g} {unit(value.declaration.said).label}" for value in (low, high)
    ]
    return [
        BadInput(f"{where}.{pair[0]}", f"= {values[0]} is above {pair[1]} = {values[1]} (drive mode {modes[mode]}); expected at most that")
    ]
