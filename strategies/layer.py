"""One layer of the stack: laws, the states that open it, fades, and how it acts on what lies beneath."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.blocks import slew_limit
from dualduty.contract import Chunk, Duty, Force, State
from dualduty.lookup import full
from dualduty.memory import Memory
from dualduty.parameters import param
from dualduty.signals import SIDES
from dualduty.trace import FLAG_CLAMP, FLAG_TRIM
from strategies.demand_maps import DemandMaps

Array = NDArray[np.float64]

DECIDES_AT_WEIGHT: Final = 0.5
DECIDES_BY_DUTY: Final = 0.0025  # a quarter of a per cent of duty


@dataclass(frozen=True)
class LayerSettings:
    """What can be calibrated on any layer."""

    enabled: float = param(1.0, "1", 0.0, 1.0, "1 switches the layer in, 0 out")
    weight: float = param(1.0, "1", 0.0, 1.0, "how far the layer acts when fully open", said="pct", by_corner=True)
    fade_in: float = param(0.0, "s", 0.0, 5.0, "time from closed to fully open", said="ms")
    fade_out: float = param(0.0, "s", 0.0, 5.0, "time from fully open to closed", said="ms")
    follow_strength: float = param(0.0, "1", 0.0, 1.0, "how far the opening follows the strength of the state; 0 opens fully")

    def opening(self, now: Chunk, when: tuple[str, ...], unless: tuple[str, ...], memory: Memory) -> Array:
        """Share 0..1 to which the layer acts, (1 or 4, time, case): gates, strength, fades, weight, enabled."""
        gate = self._gate(now, when, unless)
        rise, fall = _rate(self.fade_in), _rate(self.fade_out)
        return np.asarray(slew_limit(gate, rise, fall, memory("fade")) * (self.weight * self.enabled))

    def _gate(self, now: Chunk, when: tuple[str, ...], unless: tuple[str, ...]) -> Array:
        opened = np.ones((1, *now.specific_force_z.shape[1:]))
        if when:
            opened = self._strength(getattr(now, when[0]))
            for name in when[1:]:
                opened = np.maximum(opened, self._strength(getattr(now, name)))
        for name in unless:
            opened = opened * (1.0 - getattr(now, name).active)
        return opened

    def _strength(self, state: State) -> Array:
        if state.strength is None:
            return state.active
        return np.asarray(state.active * (1.0 - self.follow_strength * (1.0 - state.strength)))


def _rate(time: float | Array) -> Array:
    with np.errstate(divide="ignore"):
        return 1.0 / np.asarray(time, float)


Act = Callable[[Array, Array, Array], Array]

ACT: Final[dict[str, Act]] = {
    "set": lambda below, share, wanted: below + share * (wanted - below),
    "add": lambda below, share, wanted: below + share * wanted,
    "raise": lambda below, share, wanted: below + share * (np.maximum(wanted, below) - below),
    "cap": lambda below, share, wanted: below + share * (np.minimum(wanted, below) - below),
}


@dataclass
class Stack:
    """Duty of each side while layers are laid on, and who decided it so far."""

    duty: dict[str, Array]
    layer: dict[str, NDArray[np.int16]]
    flags: dict[str, NDArray[np.uint8]]

    @classmethod
    def empty(cls, ticks: int, cases: int) -> Stack:
        """Soft everywhere, decided by the first layer."""
        shape = (4, ticks, cases)
        return cls(
            {side: np.zeros(shape) for side in SIDES},
            {side: np.zeros(shape, np.int16) for side in SIDES},
            {side: np.zeros(shape, np.uint8) for side in SIDES},
        )

    def lay(self, index: int, act: str, share: Array, demand: Duty | Force, mapping: Mapping | None) -> None:
        """Lay one demand on, side by side."""
        for side in SIDES:
            wanted = getattr(demand, side)
            if wanted is None:
                continue
            below = self.duty[side]
            if isinstance(demand, Force) and mapping is not None:
                wanted, clamped = mapping.to_duty(side, wanted, below, act)
                self.flags[side] |= ((clamped > 0.0) & (share > 0.0)).astype(np.uint8) * np.uint8(FLAG_CLAMP)
                above = below + share * (wanted - below) if act == "add" else ACT[act](below, share, wanted)
            else:
                above = ACT[act](below, share, wanted)
            self._record(side, index, act, share, above - below)
            self.duty[side] = above

    def _record(self, side: str, index: int, act: str, share: Array, moved: Array) -> None:
        if act == "add":
            self.flags[side] |= (np.abs(moved) > 0.0).astype(np.uint8) * np.uint8(FLAG_TRIM)
            return
        decides = (share >= DECIDES_AT_WEIGHT) if act == "set" else (np.abs(moved) > DECIDES_BY_DUTY)
        np.copyto(self.layer[side], np.int16(index), where=np.broadcast_to(decides, moved.shape))


@dataclass(frozen=True)
class Mapping:
    """How force demands become duty: the strategy's maps at the reference speed of each side."""

    maps: DemandMaps
    speed: dict[str, Array]

    def to_duty(self, side: str, force: Array, below: Array, act: str) -> tuple[Array, Array]:
        """Duty for a wanted force, and 1 where the force lies outside the map; `add` adds to the force beneath."""
        speed = full(self.speed[side], below.shape)
        wanted = force + self.maps.force(side, speed, below) if act == "add" else force
        return self.maps.duty(side, speed, full(wanted, below.shape))


def join_forces(forces: list[Force], join: str) -> Force:
    """Several force demands as one, per side: the largest, or the sum."""
    joined: dict[str, Any] = {}
    for side in SIDES:
        parts = [getattr(force, side) for force in forces if getattr(force, side) is not None]
        if parts:
            joined[side] = parts[0]
            for part in parts[1:]:
                joined[side] = np.maximum(joined[side], part) if join == "max" else joined[side] + part
    return Force(**joined)
