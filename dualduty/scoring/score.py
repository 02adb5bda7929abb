"""Score a run: one pass over its chunks feeds every measure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from dualduty.errors import BadInput
from dualduty.scoring.measure import Measure, discover_measures
from dualduty.signals import CORNER_LABELS
from dualduty.units import from_si

if TYPE_CHECKING:
    import pandas as pd

    from dualduty.car import Car
    from dualduty.trace import Case, Trace

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Scores:
    """What a run scored.

    values : (measure, case) array
        NaN where there is no value. [SI of each measure]
    reasons : text by (measure, case)
        Why there is no value; "" where there is one.
    notes : dict of measure name to text
        How a value was come by when not in the plain way.
    corners : dict of measure name to (4, case) array
        What the figure of a vehicle was chosen from.
    driven_by : text by case
        The calibration that really drove a log; "" for a simulation.
    stamp : str
        How far the plant was compared with a vehicle.
    """

    cases: tuple[Case, ...]
    measures: tuple[Measure, ...]
    values: Array
    reasons: tuple[tuple[str, ...], ...]
    driven_by: tuple[str, ...]
    stamp: str = "not compared"
    notes: dict[str, str] = field(default_factory=dict)
    corners: dict[str, Array] = field(default_factory=dict)

    def row(self, name: str) -> int:
        """Row of a measure."""
        for row, measure in enumerate(self.measures):
            if measure.name == name:
                return row
        raise BadInput("scores", f"expected one of {', '.join(measure.name for measure in self.measures)}; got measure {name!r}")

    def value(self, name: str, case: int = 0) -> float:
        """One value. [SI]"""
        return float(self.values[self.row(name), case])

    def belongs_to(self, name: str, case: int) -> str:
        """The calibration a value speaks of: of a log, only states and duties follow the candidate."""
        own = self.measures[self.row(name)].moves_in_open_loop or not self.driven_by[case]
        return self.cases[case].candidate if own else self.driven_by[case]

    def worst_corner(self, name: str, case: int) -> str:
        """Label of the corner that gave the value; "" for a vehicle quantity, or where all are alike."""
        figures = self.corners.get(name)
        if figures is None or not np.isfinite(figures[:, case]).any() or np.ptp(figures[np.isfinite(figures[:, case]), case]) == 0:
            return ""
        return CORNER_LABELS[int(np.nanargmax(figures[:, case]))]

    def to_rows(self) -> list[dict[str, object]]:
        """One plain dict per measure and case, in the units people say."""
        return [
            {
                "section": case.section, "mode": case.mode, "candidate": case.candidate, "seed": case.seed, "vehicle": case.vehicle,
                "measure": measure.name, "label": measure.label, "value": from_si(float(self.values[row, column]), measure.said),
                "unit": measure.said, "corner": self.worst_corner(measure.name, column),
                "belongs_to": self.belongs_to(measure.name, column), "reason": self.reasons[row][column],
                "note": self.notes.get(measure.name, ""),
            }
            for column, case in enumerate(self.cases) for row, measure in enumerate(self.measures)
        ]  # fmt: skip

    def to_frame(self) -> pd.DataFrame:
        """`to_rows` as a table."""
        import pandas as pd

        return pd.DataFrame(self.to_rows())


def score(trace: Trace, car: Car, measures: Sequence[Measure] | None = None) -> Scores:
    """Score every case of a run in a single pass; `measures` defaults to all that are found."""
    chosen = tuple(discover_measures().values()) if measures is None else tuple(measures)
    folds = [measure.start(trace.header, car) for measure in chosen]
    for chunk in trace:
        for fold in folds:
            fold.fold(chunk)
    cases = trace.header.cases
    values = np.array([fold.finish() for fold in folds]).reshape(len(chosen), len(cases))
    figures = {measure.name: fold.corners() for measure, fold in zip(chosen, folds, strict=True)}
    notes = {measure.name: fold.note() for measure, fold in zip(chosen, folds, strict=True)}
    return Scores(
        cases=cases,
        measures=chosen,
        values=values,
        reasons=tuple(fold.reasons() for fold in folds),
        driven_by=(trace.header.driven_by or "an unnamed calibration" if trace.header.source == "replayed" else "",) * len(cases),
        stamp=trace.header.stamp,
        notes={name: note for name, note in notes.items() if note},
        corners={name: figure for name, figure in figures.items() if figure is not None},
    )


def join_scores(parts: Sequence[Scores]) -> Scores:
    """Scores of several runs side by side, such as one batch per section; all must have the same measures."""
    first = parts[0]
    for part in parts[1:]:
        if part.measures != first.measures:
            raise BadInput("scores", "expected the same measures in every run that is put side by side")
    names = [name for name in first.corners if all(name in part.corners for part in parts)]
    notes = {name: note for part in reversed(parts) for name, note in part.notes.items()}
    return Scores(
        cases=tuple(case for part in parts for case in part.cases),
        measures=first.measures,
        values=np.concatenate(
            [part.values for part in parts],  # noqa: PD011 - an array of ours, not a table
            axis=1,
        ),
        reasons=tuple(tuple(text for part in parts for text in part.reasons[row]) for row in range(len(first.measures))),
        driven_by=tuple(name for part in parts for name in part.driven_by),
        stamp=" / ".join(dict.fromkeys(part.stamp for part in parts)),
        notes=notes,
        corners={name: np.concatenate([part.corners[name] for part in parts], axis=1) for name in names},
    )
