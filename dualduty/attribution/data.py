"""What every layer asked for over a window of one case, how far it was open, and what stood after it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from dualduty.signals import SIDES

Array = NDArray[np.float64]
CORNERS = 4


def row_of(corner: int, side: str) -> int:
    """Row of a corner's side among the eight: compression front-left to rear-right, then rebound."""
    return SIDES.index(side) * CORNERS + corner


@dataclass(frozen=True)
class LayerFacts:
    """What a layer is: its laws, how it acts, what opens it, and all it depends on.

    `reads` names everything its laws and gates depend on; the word beside a name is the quantity or state through which
    they do, empty where a law reads it itself. `needs` says which signals close it when they are lost, and from which
    corners on (strategies.stack: THIS_CORNER, ANY, EVERY). `corners` are the roles it acts at, all corners without any.
    """

    name: str
    act: str
    laws: tuple[str, ...]
    when: tuple[str, ...] = ()
    unless: tuple[str, ...] = ()
    reads: Mapping[str, str] = field(default_factory=dict)
    needs: Mapping[str, int] = field(default_factory=dict)
    corners: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class Attribution:
    """A window of one case, layer by layer; rows of eight are compression front-left to rear-right, then rebound.

    layers : tuple of LayerFacts
        From the base upward.
    asked, share, after : (layer, 8, time) arrays
        Duty each layer wanted, NaN where it leaves the side alone; how far it was open, 0..1; duty after it acted. [1]
    stack, duty : (8, time) arrays
        Duty of all layers together, and what the supervisor made of it. [1]
    decider : (8, time) int array
        Index of the layer that decided.
    flags : (8, time) uint8 array
        Supervisor flags, FLAG_*.
    states, valid, lost, quantities : dicts of (1 or 4, time) arrays
        States 0 or 1; 1 where a channel was believed; 1 where it counted as lost; watched quantities. [SI]
    mode : (time,) int array
        Drive-mode index.
    began : dict of (row,) int arrays
        Tick since which `decider`, each state and each `valid` has stood as it does at the first tick of the window.
    """

    label: str
    candidate: str
    source: str
    driven_by: str
    stamp: str
    dt: float
    start: int
    layers: tuple[LayerFacts, ...]
    modes: tuple[str, ...]
    asked: Array
    share: Array
    after: Array
    stack: Array
    duty: Array
    decider: NDArray[np.int16]
    flags: NDArray[np.uint8]
    states: dict[str, Array]
    valid: dict[str, Array]
    lost: dict[str, Array]
    quantities: dict[str, Array]
    mode: NDArray[np.int16]
    began: dict[str, NDArray[np.int64]]

    @property
    def ticks(self) -> int:
        """Number of ticks in the window."""
        return int(self.duty.shape[1])

    @property
    def time(self) -> Array:
        """Time of each tick, (time,). [s]"""
        return np.asarray((self.start + np.arange(self.ticks)) * self.dt, float)

    def column(self, seconds: float) -> int:
        """Column of the tick nearest to a time, within the window."""
        return min(max(round(seconds / self.dt) - self.start, 0), self.ticks - 1)

    def since(self, name: str, row: int, column: int) -> int:
        """Tick since which a row of `decider`, a state (`state NAME`) or a validity (`valid NAME`) has stood as at `column`."""
        values = self._values(name)[row]
        changed = np.flatnonzero(values[1 : column + 1] != values[:column])
        return self.start + int(changed[-1]) + 1 if changed.size else int(self.began[name][row])

    def _values(self, name: str) -> NDArray[np.generic]:
        if name == "decider":
            return self.decider
        kind, _, key = name.partition(" ")
        return (self.states if kind == "state" else self.valid)[key]
