"""What a comparison says: its cells, worst first, its gates, and a summary."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from math import isfinite, nan
from typing import TYPE_CHECKING, Final, Literal

from dualduty.units import from_si

if TYPE_CHECKING:
    import pandas as pd

    from dualduty.scoring.gate import GateCheck
    from dualduty.scoring.measure import Measure

Verdict = Literal["worse", "can't tell", "changed", "better", "same", "not comparable", "identical"]
VERDICTS: Final[tuple[Verdict, ...]] = ("worse", "can't tell", "changed", "better", "same", "not comparable", "identical")  # worst first


@dataclass(frozen=True)
class Cell:
    """One measure at one place, baseline and candidate averaged over the runs both have. [SI of the measure]

    `band` is the larger of `matters` and `half_width`, which is NaN where nothing is known of the scatter.
    "changed" is a move beyond the band of a measure that is neither good nor bad.
    """

    section: str
    mode: str
    vehicle: str
    measure: Measure
    baseline: float = nan
    candidate: float = nan
    change: float = nan
    matters: float = nan
    half_width: float = nan
    band: float = nan
    verdict: Verdict = "not comparable"
    runs: int = 0
    more_runs: int = 0
    corner: str = ""
    reason: str = ""

    @property
    def change_share(self) -> float:
        """Change over the size of the baseline; NaN from zero."""
        return self.change / abs(self.baseline) if self.baseline else nan

    @property
    def worsening(self) -> float:
        """Change towards the bad side, in bands; its size for a measure without one. NaN where nothing was compared."""
        towards = {"lower": self.change, "higher": -self.change, "none": abs(self.change)}[self.measure.direction]
        return towards / self.band if self.band else nan

    def to_row(self) -> dict[str, object]:
        """Plain values, in the units people say."""
        said = self.measure.said
        sizes = {name: from_si(getattr(self, name), said) for name in ("baseline", "candidate", "change", "band", "matters", "half_width")}
        return {
            "section": self.section, "mode": self.mode, "vehicle": self.vehicle, "measure": self.measure.name, "label": self.measure.label,
            "unit": said, "baseline": sizes["baseline"], "candidate": sizes["candidate"], "change": sizes["change"],
            "change_pct": 100.0 * self.change_share, "band": sizes["band"], "matters": sizes["matters"], "half_width": sizes["half_width"],
            "verdict": self.verdict, "runs": self.runs, "more_runs": self.more_runs, "corner": self.corner, "reason": self.reason,
        }  # fmt: skip


def worst_first(cells: Iterable[Cell]) -> tuple[Cell, ...]:
    """Cells in the order they should be read: by verdict, then by how many bands they went towards the bad side."""
    return tuple(sorted(cells, key=lambda cell: (VERDICTS.index(cell.verdict), -cell.worsening if isfinite(cell.worsening) else 0.0)))


@dataclass(frozen=True)
class Summary:
    """A scorecard in short: verdicts by mode, what got worse, gates, and on how much it rests.

    `single_run` counts the cells that rest on one run: their band knows nothing of scatter. `lost` are cells where
    runs had to be left out, or where only one side has a value.
    """

    counts: dict[str, dict[str, int]]
    worse: tuple[Cell, ...]
    crossed: tuple[GateCheck, ...]
    unchecked: tuple[GateCheck, ...]
    lost: tuple[Cell, ...]
    compared: int
    single_run: int

    def lines(self) -> list[str]:
        """The summary as sentences, what must not be missed first."""
        told = [f"gate crossed: {check.sentence()}" for check in self.crossed]
        told += [f"gate not checked: {check.sentence()}" for check in self.unchecked]
        told += [_counted(mode, counts) for mode, counts in self.counts.items()]
        told += [f"worse: {_said(cell)}" for cell in self.worse]
        told += [f"incomplete: {cell.mode}, {cell.section}: {cell.measure.label}: {cell.reason}" for cell in self.lost]
        if self.single_run:
            told.append(f"{self.single_run} of {self.compared} cells rest on one run: how far runs scatter is not known there")
        return told


@dataclass(frozen=True)
class Scorecard:
    """A candidate beside its baseline; `cells` are sorted worst first, `compared` of them have a difference."""

    baseline: str
    candidate: str
    cells: tuple[Cell, ...]
    gates: tuple[GateCheck, ...]
    compared: int
    confidence: float
    stamp: str = "not compared"
    notes: dict[str, str] = field(default_factory=dict)

    def crossed(self) -> tuple[GateCheck, ...]:
        """Gates the candidate crosses."""
        return tuple(check for check in self.gates if check.crossed)

    def summary(self) -> Summary:
        """Counts by mode, the worse cells, the gates, and how far the card can be trusted."""
        counts = {mode: dict.fromkeys(VERDICTS, 0) for mode in sorted({cell.mode for cell in self.cells})}
        for (mode, verdict), number in Counter((cell.mode, cell.verdict) for cell in self.cells).items():
            counts[mode][verdict] = number
        return Summary(
            counts={mode: {str(verdict): number for verdict, number in by_verdict.items()} for mode, by_verdict in counts.items()},
            worse=tuple(cell for cell in self.cells if cell.verdict == "worse"),
            crossed=self.crossed(),
            unchecked=tuple(check for check in self.gates if check.crossed is None),
            lost=tuple(cell for cell in self.cells if cell.reason and (cell.runs or isfinite(cell.baseline) != isfinite(cell.candidate))),
            compared=self.compared,
            single_run=sum(cell.runs == 1 and not isfinite(cell.half_width) for cell in self.cells),
        )

    def to_rows(self) -> list[dict[str, object]]:
        """One plain dict per cell, worst first, in the units people say."""
        return [cell.to_row() | {"note": self.notes.get(cell.measure.name, ""), "stamp": self.stamp} for cell in self.cells]

    def to_frame(self) -> pd.DataFrame:
        """`to_rows` as a table."""
        import pandas as pd  # a heavy import, wanted by few

        return pd.DataFrame(self.to_rows())


def _counted(mode: str, counts: dict[str, int]) -> str:
    return f"{mode}: " + ", ".join(f"{number} {verdict}" for verdict, number in counts.items() if number)


def _said(cell: Cell) -> str:
    row = cell.to_row()
    mark = "" if row["unit"] == "1" else f" {row['unit']}"
    share = f" ({100 * cell.change_share:+.0f} %)" if isfinite(cell.change_share) else ""
    corner = f", {cell.corner}" if cell.corner else ""
    return f"{cell.mode}, {cell.section}: {cell.measure.label} {row['candidate']:.4g}{mark}, was {row['baseline']:.4g}{mark}{share}{corner}"
