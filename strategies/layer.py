"""One layer of the stack: laws, the states that open it, fades, and how it acts on what lies beneath."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numba import types
from numpy.typing import NDArray

from dualduty.blocks import fade
from dualduty.contract import Chunk, Duty, Force, State
from dualduty.kernels import F8, IN3, OUT3, inline, kernel
from dualduty.lookup import full
from dualduty.memory import Memory
from dualduty.parameters import param
from dualduty.signals import SIDES
from dualduty.trace import FLAG_CLAMP, FLAG_TRIM
from strategies.demand_maps import DemandMaps

Array = NDArray[np.float64]

DECIDES_AT_WEIGHT: Final = 0.5
DECIDES_BY_DUTY: Final = 0.0025  # a quarter of a per cent of duty
ROUNDING: Final = 1e-9  # force and back again through the map moves no duty by more


@dataclass(frozen=True)
class LayerSettings:
    """What can be calibrated on any layer."""

    enabled: float = param(1.0, "1", 0.0, 1.0, "1 switches the layer in, 0 out")
    weight: float = param(1.0, "1", 0.0, 1.0, "how far the layer acts when fully open", said="pct", by_corner=True)
    fade_in: float = param(0.0, "s", 0.0, 5.0, "time from closed to fully open", said="ms")
    fade_out: float = param(0.0, "s", 0.0, 5.0, "time from fully open to closed", said="ms")
    follow_strength: float = param(0.0, "1", 0.0, 1.0, "how far the opening follows the strength of the state; 0 opens fully")

    def opening(self, now: Chunk, when: tuple[str, ...], unless: tuple[str, ...], memory: Memory) -> Array:
        """Share 0..1 to which the layer acts, (1 or 4, time or 1, case): gates, strength, fades, weight, enabled."""
        scale, follows = memory("weight").derived(self._scale)
        if not when and not unless:  # always open: nothing to fade
            return full(scale, (scale.shape[0], 1, now.specific_force_z.shape[2]))
        gate = self._gate(now, when, unless, follows=follows)
        return np.asarray(fade(gate, self.fade_in, self.fade_out, memory("fade")) * scale)

    def _scale(self) -> tuple[Array, bool]:
        """Weight as (1 or 4, 1, case) array, and whether any case follows the strength of its states."""
        scale = np.multiply(self.weight, self.enabled)
        return (scale if scale.ndim else scale.reshape(1, 1, 1)), bool(np.any(self.follow_strength))

    def _gate(self, now: Chunk, when: tuple[str, ...], unless: tuple[str, ...], *, follows: bool) -> Array:
        opened = self._open(getattr(now, when[0]), follows=follows) if when else np.ones((1, *now.specific_force_z.shape[1:]))
        for name in when[1:]:
            opened = np.maximum(opened, self._open(getattr(now, name), follows=follows))
        for name in unless:
            opened = opened * (1.0 - getattr(now, name).active)
        return opened

    def _open(self, state: State, *, follows: bool) -> Array:
        if state.strength is None or not follows:
            return state.active
        return np.asarray(state.active * (1.0 - self.follow_strength * (1.0 - state.strength)))


SOFT: Final = 0.0
FLOORS: Final = ("raise", "add")  # wanting less than the softest is no shortfall of the map where a layer only adds firmness

SET, ADD, RAISE, CAP = 0.0, 1.0, 2.0, 3.0
ACTS: Final = {"set": SET, "add": ADD, "raise": RAISE, "cap": CAP}
_LAYERS: Final = types.Array(types.int16, 3, "C")
_FLAGS: Final = types.Array(types.uint8, 3, "C")


@inline
def acted(act: float, below: float, share: float, wanted: float) -> float:
    """Duty after a layer acts on `below` with `wanted`, to the share 0..1."""
    if act == ADD:
        return below + share * wanted
    if act == RAISE:
        wanted = max(wanted, below)
    elif act == CAP:
        wanted = min(wanted, below)
    if share == 1.0:  # fully open is what was asked for, to the bit
        return wanted
    return below + share * (wanted - below)


@kernel(F8, F8, IN3, IN3, IN3, OUT3, _LAYERS, _FLAGS)
def _lay_kernel(  # noqa: PLR0913, PLR0917 - a kernel takes its arrays one by one
    act: float, index: float, below: Array, share: Array, wanted: Array, duty: Array, layer: NDArray[np.int16], flags: NDArray[np.uint8]
) -> None:
    for corner in range(below.shape[0]):
        of_share = min(corner, share.shape[0] - 1)
        of_wanted = min(corner, wanted.shape[0] - 1)
        for tick in range(below.shape[1]):
            at = min(tick, share.shape[1] - 1)
            for case in range(below.shape[2]):
                weight = share[of_share, at, case]
                before = below[corner, tick, case]
                after = acted(act, before, weight, wanted[of_wanted, tick, case])
                duty[corner, tick, case] = after
                if act == ADD:
                    if abs(after - before) > ROUNDING:
                        flags[corner, tick, case] |= FLAG_TRIM
                elif (weight >= DECIDES_AT_WEIGHT) if act == SET else (abs(after - before) > DECIDES_BY_DUTY):
                    layer[corner, tick, case] = int(index)


@kernel(IN3, IN3, IN3, F8, _FLAGS)
def _note_clamp_kernel(share: Array, wanted: Array, clamped: Array, floor: float, flags: NDArray[np.uint8]) -> None:
    for corner in range(wanted.shape[0]):
        of_share = min(corner, share.shape[0] - 1)
        for tick in range(wanted.shape[1]):
            at = min(tick, share.shape[1] - 1)
            for case in range(wanted.shape[2]):
                short = wanted[corner, tick, case] > SOFT or floor == 0.0
                if clamped[corner, tick, case] > 0.0 and share[of_share, at, case] > 0.0 and short:
                    flags[corner, tick, case] |= FLAG_CLAMP


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
        """Lay one demand on, side by side.

        share : (1 or 4, time or 1, case) array
            How far the layer acts, 0..1.
        """
        for side in SIDES:
            wanted = getattr(demand, side)
            if wanted is None:
                continue
            below, code = self.duty[side], ACTS[act]
            if isinstance(demand, Force) and mapping is not None:
                wanted, clamped = mapping.to_duty(side, wanted, below, act)
                _note_clamp_kernel(_c(share), wanted, clamped, float(act in FLOORS), self.flags[side])
                if act == "add":  # the force was added in newtons: what came back is the whole duty
                    wanted = wanted - below
            above = np.empty(below.shape)
            _lay_kernel(code, float(index), below, _c(share), _c(wanted), above, self.layer[side], self.flags[side])
            self.duty[side] = above


def _c(array: Array) -> Array:
    return array if array.flags.c_contiguous else np.ascontiguousarray(array)


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
