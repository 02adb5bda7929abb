"""A calibration, read and resolved: layers from the base upward, what supplies them, and every value."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from dualduty.calibration.settings import Settings, Value
from dualduty.car import Car
from dualduty.signals import SIDES

MOST_OF_A_LAYER: Final = 8  # states in when or unless, laws, roles


@dataclass(frozen=True)
class LayerPlan:
    """One layer: which laws, when it is open, and how it acts on what lies beneath."""

    name: str
    laws: tuple[str, ...]
    act: str
    join: str
    when: tuple[str, ...]
    unless: tuple[str, ...]
    settings: Settings
    law_settings: dict[str, Settings]
    corners: tuple[str, ...] = ()

    @property
    def structure(self) -> tuple[Any, ...]:
        """Everything about the layer that is not a value."""
        return (self.name, self.laws, self.act, self.join, self.when, self.unless, self.corners)


@dataclass(frozen=True)
class Calibration:
    """A complete strategy calibration.

    `suppliers` are the estimators and detectors it needs, in the order in which they run; `settings` hold their values
    by class name, and those of the intake and the supervisor under these names. `notices` are lines about what the files
    leave open: values given for some drive modes and not for others.
    """

    name: str
    file: Path
    car: Car
    vehicle_file: Path
    modes: tuple[str, ...]
    note: str
    layers: tuple[LayerPlan, ...]
    suppliers: tuple[str, ...]
    settings: dict[str, Settings]
    files: tuple[Path, ...] = ()
    notices: tuple[str, ...] = ()

    @property
    def structure(self) -> tuple[Any, ...]:
        """Drive modes, suppliers and layers: everything about the strategy that is not a number."""
        return (self.modes, self.suppliers, tuple(layer.structure for layer in self.layers))

    @property
    def batch(self) -> tuple[Any, ...]:
        """What must be equal for two calibrations to run in one batch: the structure, and the maps from force to duty."""
        return (self.structure, *(self.car.damper_map(side, corner).packed.tobytes() for side in SIDES for corner in (0, 2)))

    def places(self) -> Iterator[tuple[str, Settings]]:
        """Every set of values with its place: `detectors.Cornering`, `layers.support`, `layers.support.RollHold`."""
        for name, settings in self.settings.items():
            yield name, settings
        for layer in self.layers:
            yield f"layers.{layer.name}", layer.settings
            for law, settings in layer.law_settings.items():
                yield f"layers.{layer.name}.{law}", settings

    def values(self) -> Iterator[tuple[str, str, Value]]:
        """Every value with its place and name."""
        for place, settings in self.places():
            for name, value in settings.items():
                yield place, name, value

    @property
    def digest(self) -> str:
        """Digest of everything that decides what it commands; names and notes don't count."""
        content = {
            "structure": repr(self.structure),
            "values": {f"{place}.{name}": [v.values.tolist(), [p.tolist() for p in v.points]] for place, name, v in self.values()},
        }
        return hashlib.sha256(json.dumps(content, sort_keys=True).encode()).hexdigest()[:16]
