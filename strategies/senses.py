"""What a strategy makes of its sensors: intake, estimators and detectors, put on a board."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dualduty.calibration.bind import bind
from dualduty.calibration.model import Calibration
from dualduty.discovery import Found, PlugIns
from dualduty.errors import BadInput
from dualduty.signals import SIGNALS
from strategies.board import CLEAN, FAULT, VALID, BoardChunk, BoardLayout
from strategies.intake import Intake
from strategies.part import Part
from strategies.strategy_memory import StrategyMemory

Array = NDArray[np.float64]
BoundPart = tuple[Part, Any]  # with its packed values, or with itself where it is in array form


@dataclass(frozen=True)
class BoundSenses:
    """Intake and suppliers with their parameters for one row of drive modes."""

    key: bytes
    intake: Intake
    parts: tuple[BoundPart, ...]


class Candidates:
    """Calibrations of one structure, and which of them each case runs."""

    def __init__(self, calibrations: Sequence[Calibration], candidate_of_case: Sequence[int], dt: float) -> None:
        self.calibrations = tuple(calibrations)
        self.of_case = tuple(candidate_of_case)
        self.cases = len(self.of_case)
        self.modes = self.calibrations[0].modes
        self.dt = dt

    def mode_row(self, key: bytes) -> list[int]:
        """Drive-mode indices of all cases from their bytes; BadInput for one that isn't there."""
        modes = [int(mode) for mode in np.frombuffer(key, np.int16)]
        unknown = [mode for mode in modes if not 0 <= mode < len(self.modes)]
        if unknown:
            raise BadInput("drive mode", f"expected an index of {', '.join(self.modes)}, got {unknown[0]}")
        return modes

    def bound(self, part: Part, place: str, modes: list[int]) -> BoundPart:
        """A supplier with the values that each case has."""
        plug_in: Any = bind(part.found.cls, [each.settings[place] for each in self.calibrations], self.of_case, modes)
        return self.packed(part, plug_in)

    def packed(self, part: Part, plug_in: Any) -> BoundPart:
        """A bound plug-in as its part takes it."""
        return part, plug_in if part.plan is None else part.plan.pack(plug_in, self.cases, self.dt)


class Senses:
    """Runs intake, estimators and detectors of some candidates over a board of `layout`."""

    def __init__(self, candidates: Candidates, suppliers: Sequence[Found], layout: BoardLayout) -> None:
        self.candidates = candidates
        self.layout = layout
        self.parts = tuple(Part.at(found, layout) for found in suppliers)
        self.names = ("intake", *(part.name for part in self.parts))  # of the parts that remember

    def bind(self, key: bytes) -> BoundSenses:
        """All of it for one row of drive modes, by their bytes."""
        modes = self.candidates.mode_row(key)
        settings = [each.settings["intake"] for each in self.candidates.calibrations]
        parts = tuple(self.candidates.bound(part, f"{part.found.kind}s.{part.name}", modes) for part in self.parts)
        return BoundSenses(key, bind(Intake, settings, self.candidates.of_case, modes), parts)

    def advance(self, bound: BoundSenses, sensed: Array, board: Array, memory: StrategyMemory) -> tuple[BoardChunk, Array]:
        """Fill the board from sensed signals, (row, time, case); returns it as a chunk, and which channels are lost."""
        lost = _take_in(bound, sensed, board, memory)
        now = BoardChunk(self.candidates.dt, board, self.layout, (sensed.shape[1], sensed.shape[2]))
        for part, values in bound.parts:
            part.advance(values, now, memory, bound.key)
        return now, lost


def _take_in(bound: BoundSenses, sensed: Array, board: Array, memory: StrategyMemory) -> Array:
    """Put what the intake makes of the sensors on the board; returns which channels are lost, (row, tick x case)."""
    lost = np.empty((sensed.shape[0], sensed.shape[1] * sensed.shape[2]))
    tree = memory.open("intake", bound.key)
    bound.intake.run_onto(sensed, tree, board[CLEAN], board[FAULT], board[VALID], lost)
    tree.end()
    return lost


def signals_used(calibration: Calibration, plug_ins: PlugIns) -> tuple[str, ...]:
    """Signals that any plug-in of a calibration reads, laws too: the intake compares channels, so it must see the same ones."""
    named = (*calibration.suppliers, *(law for plan in calibration.layers for law in plan.laws))
    read = {name for each in named for name in plug_ins.by_name[each].reads}
    return tuple(name for name in SIGNALS if name in read)
