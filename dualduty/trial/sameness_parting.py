"""Where a candidate's duties part most from the logged ones, and which layer made the difference there."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.attribution import Attribution, explain, moment
from dualduty.attribution.words import parting
from dualduty.calibration.model import Calibration
from dualduty.discovery import PlugIns
from dualduty.signals import CORNERS, SIDES
from dualduty.trace import Trace
from dualduty.trial.clock import DT
from replay.sameness.logged_beside import beside
from replay.sameness.sameness import Sameness
from replay.sameness.sameness_shift import Block, shifted
from strategies.controller import Strategy

Array = NDArray[np.float64]
Span = tuple[int, int]  # first tick and the one after the last

MOST: Final = 6  # windows
AROUND: Final = 0.5  # s drawn before and after a window
LEAST_KNOWN: Final = 0.5  # share of a window


@dataclass(frozen=True, eq=False)
class Stretch:
    """A window in which a corner's side of the candidate lies far from the log, and what surrounds it.

    `apart` and `driver_apart` are the means over the window of |candidate - logged| and |replayed driver - logged| [1];
    `states` are those of the whole vehicle that were active in it; `layer` and `driver_layer` decided where the two replays
    differ most; `words` say more. Arrays span `AROUND` more than the window: time (time,) [s]; logged, driver and candidate
    duty (time,) [1]; `layers` and `driver_layers` (time,) indices of who decided.
    """

    start: float
    end: float
    corner: int
    side: str
    apart: float
    driver_apart: float
    mode: str
    states: tuple[str, ...]
    layer: str
    driver_layer: str
    words: tuple[str, ...]
    time: Array
    logged: Array
    driver: Array
    candidate: Array
    layers: NDArray[np.int16]
    driver_layers: NDArray[np.int16]


def partings(same: Sameness, driver: tuple[Calibration, Trace], candidate: tuple[Calibration, Trace], plug_ins: PlugIns,
             window: tuple[float, float] = (0.0, float("inf")), most: int = MOST) -> list[Stretch]:  # fmt: skip
    """The windows of a log in which a candidate parts most from what was logged, the widest apart first.

    Each window is named once, by the corner and side that part most in it, and only where the replayed driver lies nearer
    to the log by more than the tolerance: else it isn't the candidate's doing. Windows that begin between the two times of
    `window` [s] count. `same` is how the replayed driver compares with the log.
    """
    width = round(same.rules.window / same.dt)
    theirs, ours = _means(same, driver[1], candidate[1], width)
    inside = (np.arange(theirs.shape[1]) * width * same.dt >= window[0]) & (np.arange(theirs.shape[1]) * width * same.dt < window[1])
    own = inside & np.isfinite(theirs) & (theirs > ours + same.rules.tolerance)
    wide = np.where(own, theirs, 0.0)
    order = np.argsort(-wide.max(axis=0), kind="stable")[:most].tolist()
    chosen = [(index, int(wide[:, index].argmax())) for index in order if wide[:, index].any()]
    spans = [(index * width, (index + 1) * width) for index, _ in chosen]
    cuts = _cut(same, driver[1], candidate[1], spans)
    return [_stretch(same, (driver, candidate), cut, row, plug_ins) for (_, row), cut in zip(chosen, cuts, strict=True)]


def _blocks(same: Sameness, driver: Trace) -> Iterator[Block]:
    pieces = beside(driver, same.logged, same.rules.settle)
    return shifted(pieces, same.offset, same.logged, same.rules.slack_ticks(same.dt), same.dt)


class _Rows:
    """Rows of a trace between ticks, for blocks that are cut otherwise than its chunks."""

    def __init__(self, trace: Trace) -> None:
        self._chunks = iter(trace)
        self._held: list[dict[str, NDArray[Any]]] = []
        self._start = 0
        self._end = 0

    def between(self, first: int, end: int) -> dict[str, NDArray[Any]]:
        """Duty, layer, mode and states of consecutive ticks; calls go forward in time."""
        while self._end < end:
            chunk = next(self._chunks)
            states = {f"state {name}": values[:, :, 0] for name, values in chunk.states.items() if len(values) == 1}
            self._held.append({
                "duty": np.concatenate([chunk.duty[side][:, :, 0] for side in SIDES]),
                "layer": np.concatenate([chunk.layer[side][:, :, 0] for side in SIDES]), **states,
            })  # fmt: skip
            self._end += chunk.ticks
        joined = {name: np.concatenate([held[name] for held in self._held], axis=1) for name in self._held[0]}
        found = {name: rows[:, first - self._start : end - self._start] for name, rows in joined.items()}
        self._held = [{name: rows[:, first - self._start :] for name, rows in joined.items()}]
        self._start = first
        return found


def _means(same: Sameness, driver: Trace, candidate: Trace, width: int) -> tuple[Array, Array]:
    """Means of |candidate - logged| and |driver - logged| by row and window, (8, window); NaN where little was logged or settled."""
    rows = _Rows(candidate)
    count = int(np.ceil(same.seconds / same.dt / width)) + 1
    sums = np.zeros((3, len(SIDES) * len(CORNERS), count))
    for block in _blocks(same, driver):
        theirs = rows.between(block.start, block.start + block.ticks)["duty"]
        known = np.isfinite(block.logged) & block.settled
        place = (block.start + np.arange(block.ticks)) // width
        for index, apart in enumerate((np.abs(theirs - block.logged), np.abs(block.replayed - block.logged), np.ones(known.shape))):
            for row, values in enumerate(np.where(known, apart, 0.0)):
                sums[index, row] += np.bincount(place, values, minlength=count)
    enough = sums[2] >= LEAST_KNOWN * width
    theirs, ours = np.where(enough, sums[:2] / np.maximum(sums[2], 1.0), np.nan)
    return theirs, ours


@dataclass
class _Cut:
    span: Span
    first: int
    parts: list[dict[str, NDArray[Any]]]

    def rows(self, name: str) -> NDArray[Any]:
        return np.concatenate([part[name] for part in self.parts], axis=1)


def _cut(same: Sameness, driver: Trace, candidate: Trace, spans: Sequence[Span]) -> list[_Cut]:
    """What both replays and the log hold around each span, in one pass."""
    around = round(AROUND / same.dt)
    cuts = [_Cut(span, max(span[0] - around, 0), []) for span in spans]
    rows = _Rows(candidate)
    for block in _blocks(same, driver):
        theirs = rows.between(block.start, block.start + block.ticks)
        for cut in cuts:
            low, high = max(cut.first - block.start, 0), min(cut.span[1] + around - block.start, block.ticks)
            if high > low:
                own: dict[str, NDArray[Any]] = {
                    "logged": block.logged,
                    "driver": block.replayed,
                    "driver layer": block.layer,
                    "mode": block.mode[None, :],
                }
                cut.parts.append({name: values[:, low:high] for name, values in {**theirs, **own}.items()})
    return cuts


def _stretch(
    same: Sameness, pair: tuple[tuple[Calibration, Trace], tuple[Calibration, Trace]], cut: _Cut, row: int, plug_ins: PlugIns
) -> Stretch:
    (driver, driver_trace), (candidate, candidate_trace) = pair
    corner, side = row % len(CORNERS), SIDES[row // len(CORNERS)]
    inside = slice(cut.span[0] - cut.first, cut.span[1] - cut.first)
    logged, ours, theirs = (cut.rows(name)[row] for name in ("logged", "driver", "duty"))
    known = np.isfinite(logged[inside])
    weight = np.abs(theirs - ours)[inside]
    layers, driver_layers = cut.rows("layer")[row], cut.rows("driver layer")[row]
    at = (cut.span[0] + int(np.argmax(weight))) * same.dt
    told = [_told(trace, calibration, at, plug_ins) for calibration, trace in ((candidate, candidate_trace), (driver, driver_trace))]
    moments = [moment(each, at, corner, side) for each in told]
    states = sorted(name.removeprefix("state ") for name in cut.parts[0] if name.startswith("state ") and cut.rows(name)[0, inside].any())
    mode = int(Counter(cut.rows("mode")[0, inside].tolist()).most_common(1)[0][0])
    return Stretch(
        cut.span[0] * same.dt, cut.span[1] * same.dt, corner, side, _mean(np.abs(theirs - logged)[inside][known]),
        _mean(np.abs(ours - logged)[inside][known]), same.modes[mode], tuple(states),
        _heaviest(layers[inside], weight, candidate_trace), _heaviest(driver_layers[inside], weight, driver_trace),
        (f"at {at:.2f} s {candidate.name} against", *parting(moments[0], moments[1], driver.name)),
        np.asarray((cut.first + np.arange(len(logged))) * same.dt, float), logged, ours, theirs, layers, driver_layers,
    )  # fmt: skip


def _told(trace: Trace, calibration: Calibration, at: float, plug_ins: PlugIns) -> Attribution:
    return explain(trace, Strategy([calibration], [0], plug_ins, DT), max(at - 0.2, 0.0), at, plug_ins=plug_ins)


def _mean(values: Array) -> float:
    return float(values.mean()) if values.size else float("nan")


def _heaviest(layer: NDArray[np.int16], weight: Array, trace: Trace) -> str:
    """The layer that decided where the replays differ most; by time alone where they don't differ."""
    names = trace.header.layers
    counts = np.bincount(layer.astype(np.intp), weight if weight.any() else None, minlength=len(names))
    return names[int(np.argmax(counts))]
