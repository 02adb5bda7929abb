"""Limits that no calibration may cross, whatever else it improves."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from dualduty.units import from_si, unit

if TYPE_CHECKING:
    from dualduty.scoring.measure import Measure


@dataclass(frozen=True)
class Gate:
    """A limit on a measure [SI]: at most, or at least where higher is better; in the named sections and modes, else in all."""

    measure: str
    limit: float
    modes: tuple[str, ...] = ()
    sections: tuple[str, ...] = ()

    def covers(self, measure: str, section: str, mode: str) -> bool:
        """Whether it speaks of a cell."""
        return measure == self.measure and (not self.sections or section in self.sections) and (not self.modes or mode in self.modes)

    def is_crossed(self, value: float, measure: Measure) -> bool:
        """Whether `value` lies beyond the limit; on it is inside."""
        return value < self.limit if measure.direction == "higher" else value > self.limit


@dataclass(frozen=True)
class GateCheck:
    """A gate held against one cell: worst seed of the candidate and of the baseline [SI]; `crossed` is None where unchecked."""

    gate: Gate
    measure: Measure
    section: str = ""
    mode: str = ""
    vehicle: str = ""
    value: float = float("nan")
    baseline: float = float("nan")
    crossed: bool | None = None
    reason: str = ""

    @property
    def was_crossed(self) -> bool:
        """Whether the baseline crossed it already."""
        return self.gate.is_crossed(self.baseline, self.measure)

    def sentence(self) -> str:
        """One line: ``dash, whoops: hard-stop hits 3, at most 0 allowed``."""
        said = self.measure.said
        where = ", ".join(text for text in (self.mode, self.section, self.vehicle) if text) or "nowhere"
        mark = "" if said == "1" else f" {unit(said).label}"
        bound = "at least" if self.measure.direction == "higher" else "at most"
        allowed = f"{bound} {from_si(self.gate.limit, said):.4g}{mark} allowed"
        if self.crossed is None:
            return f"{where}: {self.measure.label}, {allowed}, could not be checked: {self.reason}"
        before = " (the baseline crossed it too)" if self.crossed and self.was_crossed else ""
        return f"{where}: {self.measure.label} {from_si(self.value, said):.4g}{mark}, {allowed}{before}"
