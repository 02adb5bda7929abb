"""The fold nearly every measure is made of: a source, stages in between, a reducer, and how four corners become one figure."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Final, Literal

import numpy as np
from numpy.typing import NDArray

from dualduty.scoring.reduce import Moments
from dualduty.signals import CORNER_LABELS

if TYPE_CHECKING:
    from dualduty.scoring.reading import Reading, Source
    from dualduty.scoring.reduce import Reducer
    from dualduty.scoring.stages import Stage
    from dualduty.trace import Header, TraceChunk

Array = NDArray[np.float64]
Pick = Literal["worst", "sum"]
NO_SAMPLE: Final = "no sample counts: not running, or the channel was not believed"
NOT_FINITE: Final = "a value of the run is not a finite number"


class FoldOver:
    """Folds a run over one source; see `dualduty.scoring.measure.Fold`.

    pick : "worst" or "sum"
        The figure of a vehicle from those of its corners: the largest, or all together.
    """

    def __init__(
        self, header: Header, source: Source, reducer: Reducer | Callable[[Moments], Array], *stages: Stage, pick: Pick = "worst"
    ) -> None:
        self._cases = len(header.cases)
        self._source = source
        self._reducer: Reducer = Moments(reducer) if callable(reducer) else reducer
        self._stages = stages
        self._pick = pick
        self._refusal = self._source.missing
        self._dt = 0.0
        self._figures = self._counted = np.empty((0, 0))
        self._reasons: tuple[str, ...] = ()

    def fold(self, chunk: TraceChunk) -> None:
        """Take in the next chunk."""
        reading = self._source.read(chunk)
        if reading is None:
            return
        if not self._dt:
            self._dt = reading.dt
            self._refusal = next((text for stage in self._stages if (text := stage.refusal(reading.dt))), "")
        if not self._refusal:
            self._through(reading, self._stages)

    def finish(self) -> Array:
        """Value per case, `(case,)`. [SI]"""
        if self._dt and not self._refusal:
            for place, stage in enumerate(self._stages):
                rest = stage.end()
                if rest is not None:
                    self._through(rest, self._stages[place + 1 :])
        self._figures = self._per_case(self._reducer.figure()) if self._dt and not self._refusal else np.full((1, self._cases), np.nan)
        self._counted = self._per_case(self._reducer.counted()) if self._dt and not self._refusal else np.zeros_like(self._figures)
        values = self._figures.sum(axis=0) if self._pick == "sum" else _largest(self._figures, self._counted)
        self._reasons = tuple("" if np.isfinite(value) else self._reason(case) for case, value in enumerate(values))
        return values

    def reasons(self) -> tuple[str, ...]:
        """Why a case has no value."""
        return self._reasons

    def note(self) -> str:
        """Where the values came from when not from the first choice, and what the rate does to them."""
        if not self._dt or self._refusal:
            return ""
        unseen = [CORNER_LABELS[corner] for corner in np.flatnonzero((self._counted == 0).all(axis=1))] if len(self._counted) > 1 else []
        texts = (self._source.note, *(stage.note(self._dt) for stage in self._stages), f"without {', '.join(unseen)}" if unseen else "")
        return "; ".join(text for text in texts if text)

    def corners(self) -> Array | None:
        """Figures of the corners, `(4, case)`."""
        return self._figures if len(self._figures) > 1 else None

    def _through(self, reading: Reading, stages: tuple[Stage, ...]) -> None:
        for stage in stages:
            reading = stage.push(reading)
        self._reducer.add(reading)

    def _per_case(self, figures: Array) -> Array:
        """A channel that is the same in all cases is folded once and stands for each."""
        return np.array(np.broadcast_to(figures, (figures.shape[0], self._cases)))

    def _reason(self, case: int) -> str:
        if self._refusal:
            return self._refusal
        counted = self._counted[:, case]
        if not counted.any() or (self._pick == "sum" and not counted.all()):
            return NO_SAMPLE
        return self._reducer.too_little or NOT_FINITE


def _largest(figures: Array, counted: Array) -> Array:
    """Largest over the corners; a corner without samples is passed over, one that went to infinity is not."""
    seen = counted > 0
    largest = np.where(seen, figures, -np.inf).max(axis=0)  # a NaN among those seen stays a NaN
    return np.where(seen.any(axis=0), largest, np.nan)
