"""What drives a plant or reads a log: anything that maps sensed signals to two duties per damper, tick by tick."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from dualduty.signals import SIDES

Array = NDArray[np.float64]


@dataclass(frozen=True)
class ControllerOutput:
    """What a controller made of a chunk; the fields are those of `TraceChunk` with the same names."""

    valid: dict[str, Array]
    quantities: dict[str, Array]
    states: dict[str, Array]
    strengths: dict[str, Array]
    asked: dict[str, Array]
    duty: dict[str, Array]
    layer: dict[str, NDArray[np.int16]]
    flags: dict[str, NDArray[np.uint8]]


@dataclass(frozen=True)
class OutputLayout:
    """Where each name stands in the rows of a packed output."""

    valid: dict[str, slice]
    quantities: dict[str, slice]
    states: dict[str, slice]
    strengths: dict[str, slice]


@dataclass(frozen=True)
class Record:
    """What each layer asked for: duty wanted by side (NaN where it leaves it alone), its share 0..1, and the duty after it.

    asked, share, after : (layer, 8, time, case) arrays
        Sides: compression of the four corners, then rebound. [1]
    lost : (row, time, case) array
        1 where a channel counted as lost, rows by `CONTROLLER_LAYOUT`.
    """

    asked: Array
    share: Array
    after: Array
    lost: Array


@dataclass(frozen=True)
class PackedOutput:
    """A `ControllerOutput` in few arrays: what a tick costs least. The same names give the same dicts.

    rows : (row, time, case) array
        By `layout`.
    before, after, decided, raised : (8, time, case) arrays
        Duty asked for and commanded, deciding layer, flags; compression of the four corners, then rebound.
    """

    layout: OutputLayout
    rows: Array
    before: Array
    after: Array
    decided: NDArray[np.int16]
    raised: NDArray[np.uint8]
    record: Record | None = None

    def _part(self, places: dict[str, slice]) -> dict[str, Array]:
        return {name: self.rows[place] for name, place in places.items()}

    @property
    def valid(self) -> dict[str, Array]:
        """1 where the intake believed a channel."""
        return self._part(self.layout.valid)

    @property
    def quantities(self) -> dict[str, Array]:
        """What the estimators made of the signals. [SI]"""
        return self._part(self.layout.quantities)

    @property
    def states(self) -> dict[str, Array]:
        """1 where a state was active."""
        return self._part(self.layout.states)

    @property
    def strengths(self) -> dict[str, Array]:
        """Strength 0..1 beside each state."""
        return self._part(self.layout.strengths)

    @property
    def asked(self) -> dict[str, Array]:
        """Duties before the supervisor, by side. [1]"""
        return by_side(self.before)

    @property
    def duty(self) -> dict[str, Array]:
        """Duties commanded, by side. [1]"""
        return by_side(self.after)

    @property
    def layer(self) -> dict[str, NDArray[np.int16]]:
        """Which layer decided, by side."""
        return by_side(self.decided)

    @property
    def flags(self) -> dict[str, NDArray[np.uint8]]:
        """Supervisor flags, by side."""
        return by_side(self.raised)


def by_side(array: NDArray[Any]) -> dict[str, NDArray[Any]]:
    """(8, time, case) as one (4, time, case) array per side."""
    return {side: array[4 * index : 4 * index + 4] for index, side in enumerate(SIDES)}


def joined(outputs: Sequence[ControllerOutput | PackedOutput]) -> dict[str, dict[str, Any]]:
    """The fields of consecutive outputs of one controller, each joined along time."""
    first = outputs[0]
    if isinstance(first, PackedOutput):
        first = joined_packed([output for output in outputs if isinstance(output, PackedOutput)])
        return {field.name: getattr(first, field.name) for field in fields(ControllerOutput)}
    return {
        field.name: {
            name: np.concatenate([getattr(output, field.name)[name] for output in outputs], axis=1) for name in getattr(first, field.name)
        }
        for field in fields(ControllerOutput)
    }


def joined_packed(outputs: Sequence[PackedOutput]) -> PackedOutput:
    """Consecutive packed outputs as one."""
    first = outputs[0]
    if len(outputs) == 1:
        return first
    names = ("rows", "before", "after", "decided", "raised")
    arrays: dict[str, Any] = {name: np.concatenate([getattr(output, name) for output in outputs], axis=1) for name in names}
    records = [output.record for output in outputs if output.record is not None]
    record = None
    if records:
        record = Record(**{f.name: np.concatenate([getattr(each, f.name) for each in records], axis=-2) for f in fields(Record)})
    return replace(first, **arrays, record=record)


class Controller(Protocol):
    """The same object runs one tick at a time in the closed loop and thousands of ticks at a time over a log."""

    @property
    def dt(self) -> float:
        """Step between ticks. [s]"""

    @property
    def cases(self) -> int:
        """Number of cases it was built for."""

    @property
    def modes(self) -> tuple[str, ...]:
        """Drive modes, by index."""

    @property
    def layers(self) -> tuple[str, ...]:
        """Layer names, from the base upward."""

    @property
    def states(self) -> tuple[str, ...]:
        """Names of all published states."""

    def start(self) -> Any:
        """Fresh memory for all cases."""

    def run(self, sensed: Array, mode: NDArray[np.int16], memory: Any) -> ControllerOutput | PackedOutput:
        """Advance `memory` over a chunk.

        sensed : (row, time, case) array
            Rows by `signals.CONTROLLER_LAYOUT`; not written to. NaN where the channel gave nothing. [SI]
        mode : (1, time, case) int16 array
            Drive-mode index.
        """
