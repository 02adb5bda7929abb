"""What a layer reads and hardly can trust: a speed that moved while the wheels were off the ground, a channel not believed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.attribution.data import CORNERS, Attribution, LayerFacts
from dualduty.signals import CORNER_LABELS
from dualduty.units import from_si
from strategies.gates import ANY, THIS_CORNER

SPEED_MOVED: Final = 1.5  # m/s: air and rolling take less within half a second of flight (about 1 m/s² at 25 m/s, own estimate)


def suspicions(told: Attribution, layers: Sequence[int], corner: int, column: int) -> tuple[str, ...]:
    """Sentences about what the named layers read at a column of the window."""
    return (*_moved_in_air(told, layers, column), *_not_believed(told, layers, corner, column))


def _moved_in_air(told: Attribution, layers: Sequence[int], column: int) -> list[str]:
    moved = told.quantities.get("speed_moved_in_air")
    readers = _readers(told, layers, "vehicle_speed")
    if moved is None or not readers or abs(moved[0, column]) < SPEED_MOVED:
        return []
    return [f"vehicle speed moved {from_si(float(moved[0, column]), 'km/h'):+.0f} km/h in the air (wheels off, not held); {readers}"]


def _not_believed(told: Attribution, layers: Sequence[int], corner: int, column: int) -> list[str]:
    """Channels that are not believed, but don't count as lost yet."""
    found = []
    for name, valid in told.valid.items():
        bad = (valid[:, column] == 0.0) & (told.lost[name][:, column] == 0.0)
        depend = [told.layers[index].name for index in layers if concerns(told.layers[index], name, bad, corner)]
        if depend:
            what, seconds = _where_and_since(told, name, bad, (corner, column))
            verb = "depends" if len(depend) == 1 else "depend"
            found.append(f"{what} not believed since {seconds:.2f} s; {' and '.join(depend)} {verb} on it")
    return found


def _where_and_since(told: Attribution, name: str, bad: NDArray[np.bool_], here: tuple[int, int]) -> tuple[str, float]:
    """A channel with its corners, this one first, and for how long it has not been believed. [s]"""
    corner, column = here
    rows = sorted((int(row) for row in np.flatnonzero(bad)), key=lambda row: row != corner)
    tick = told.start + column - min(told.since(f"valid {name}", row, column) for row in rows)
    places = [CORNER_LABELS[row] for row in rows] if len(bad) == CORNERS else []
    return " ".join(["sensor", name.replace("_", " "), ", ".join(places)]).rstrip(), tick * told.dt


def concerns(layer: LayerFacts, name: str, bad: NDArray[np.bool_], corner: int) -> bool:
    """Whether a layer needs a signal at a corner where the rows of `bad` are lost."""
    need = layer.needs.get(name)
    if need is None or not bad.any():
        return False
    if need == THIS_CORNER:
        return bool(bad[corner % len(bad)])
    return need == ANY or bool(bad.all())


@dataclass(frozen=True)
class Loss:
    """A channel that counts as lost, for how long it has not been believed [s], and the layers it closes at a corner."""

    channel: str
    seconds: float
    closes: tuple[str, ...]


def losses(told: Attribution, corner: int, column: int) -> tuple[Loss, ...]:
    """Lost channels that close layers at a corner."""
    found = []
    for name, lost in told.lost.items():
        bad = lost[:, column] > 0.0
        closes = tuple(layer.name for layer in told.layers if concerns(layer, name, bad, corner))
        if closes:
            found.append(Loss(*_where_and_since(told, name, bad, (corner, column)), closes))
    return tuple(found)


def _readers(told: Attribution, layers: Sequence[int], name: str) -> str:
    """Which of the layers depend on a name, and through what; empty where none does."""
    through = {told.layers[index].name: told.layers[index].reads[name] for index in layers if name in told.layers[index].reads}
    ways = {way: f" through {'the state ' if way in told.states else ''}{way.replace('_', ' ')}" if way else "" for way in through.values()}
    return " and ".join(f"{layer} reads it{ways[way]}" for layer, way in through.items())
