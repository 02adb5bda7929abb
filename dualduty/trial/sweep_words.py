"""A threshold sweep in words and as a table: where it stands, where it would be best, which values keep every gate."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator, Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.trial.swept_parameter import SweptParameter
from dualduty.trial.threshold_sweep import Sweep
from replay.check.result import StateResult

FIGURES: Final[tuple[tuple[str, Callable[[StateResult], float]], ...]] = (
    ("recall_pct", lambda one: 100.0 * one.recall),
    ("precision_pct", lambda one: 100.0 * one.precision),
    ("f1_pct", lambda one: 100.0 * one.f1),
    ("false_per_min", lambda one: one.false_per_minute),
    ("onset_median_ms", lambda one: 1e3 * one.onset[0]),
    ("onset_p90_ms", lambda one: 1e3 * one.onset[1]),
    ("onset_worst_ms", lambda one: 1e3 * one.onset[2]),
    ("offset_median_ms", lambda one: 1e3 * one.offset[0]),
    ("offset_p90_ms", lambda one: 1e3 * one.offset[1]),
    ("found", lambda one: one.found),
    ("missed", lambda one: one.missed),
    ("false", lambda one: one.false),
    ("fragments", lambda one: one.fragments),
    ("late", lambda one: one.late),
    ("merges", lambda one: one.merges),
    ("toggles_per_min", lambda one: one.toggles_per_minute),
)


def csv_text(sweep: Sweep) -> str:
    """Every figure of every combination; the calibration as it is stands last, with `current` in place of values."""
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\n")
    parameters = sweep.plan.parameters
    writer.writerow([*(one.label for one in parameters), "state", *(name for name, _ in FIGURES), "keeps_gates"])
    for place, case in np.ndenumerate(sweep.grid):
        if case >= 0:
            said = [f"{one.values[index]:.9g}" for one, index in zip(parameters, place, strict=True)]
            writer.writerow([*said, *_row(sweep, sweep.cases[case].of(sweep.plan.state), keeps=bool(sweep.keeps[case]))])
    now = sweep.current.of(sweep.plan.state)
    writer.writerow([*("current" for _ in parameters), *_row(sweep, now, keeps=sweep.current_keeps)])
    return text.getvalue()


def _row(sweep: Sweep, one: StateResult, *, keeps: bool) -> list[str]:
    numbers = [read(one) for _, read in FIGURES]
    return [
        one.state,
        *("" if np.isnan(number) else f"{number:.6g}" for number in numbers),
        ("yes" if keeps else "no") if sweep.gated else "",
    ]


def lines(sweep: Sweep) -> Iterator[str]:
    """What an engineer wants to know first."""
    parameters, state = sweep.plan.parameters, sweep.plan.state
    now = sweep.current.of(state)
    said = ", ".join(f"{one.label} = {_current(one)}" for one in parameters)
    yield f"current: {said}: {figures(now)}{_gates(sweep, kept=sweep.current_keeps)}"
    place = best(sweep)
    if place is None:
        yield f"best balanced: none; {state} has no marks that count"
    else:
        case = int(sweep.grid[place])
        said = ", ".join(f"{one.label} = {one.said(one.values[index])}" for one, index in zip(parameters, place, strict=True))
        yield f"best balanced: {said}: {figures(sweep.cases[case].of(state))}{_gates(sweep, kept=bool(sweep.keeps[case]))}"
    yield _kept_line(sweep)
    if sweep.moved:
        yield f"moved along where it had to, to stay in order: {', '.join(sweep.moved)}"
    left_out = int((sweep.grid < 0).sum())
    if left_out:
        yield f"left out: {left_out} of {sweep.grid.size} combinations, out of order"


def figures(one: StateResult) -> str:
    """The figures of one value in a line."""
    onset = "no onset" if np.isnan(one.onset[0]) else f"onset {1e3 * one.onset[0]:.0f} ms, 90th percentile {1e3 * one.onset[1]:.0f} ms"
    marks = one.found + one.missed
    return f"found {one.found} of {marks}, {one.false_per_minute:.3g} false per min, precision {_pct(one.precision)}, {onset}"


def best(sweep: Sweep) -> tuple[int, ...] | None:
    """Place of the value with the best balance of recall and precision (F1), as `Sweep.grid`.

    Of several that are as good: those that keep the gates, then the fewest false per minute, then those with no worse one beside
    them, so that a little more or less changes nothing, and of these the one whose median onset is nearest to the marks.
    """
    balance = sweep.figure(lambda one: one.f1)
    if np.isnan(balance).all():
        return None
    good = balance >= np.nanmax(balance) - 1e-12
    good &= sweep.kept if (good & sweep.kept).any() else good
    false = np.where(good, np.nan_to_num(sweep.figure(lambda one: one.false_per_minute)), np.inf)
    good &= false <= false.min()
    inner = _inner(good)
    good = inner if inner.any() else good
    onset = np.where(good, np.abs(np.nan_to_num(sweep.figure(lambda one: one.onset[0]), nan=1e9)), np.inf)
    return tuple(int(index) for index in np.unravel_index(int(np.argmin(onset)), good.shape))


def _inner(good: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Places all of whose neighbours are good too; what lies beyond the swept range counts as not good."""
    from scipy.ndimage import binary_erosion

    return np.asarray(binary_erosion(good, np.ones((3,) * good.ndim, dtype=bool)))


def _kept_line(sweep: Sweep) -> str:
    state = sweep.plan.state
    if not sweep.gated:
        return f"gates: none for {state}"
    kept = sweep.kept
    if not kept.any():
        return "keeps all gates: no value swept"
    if kept.ndim > 1:
        return f"keeps all gates: {int(kept.sum())} of {int((sweep.grid >= 0).sum())} combinations"
    parameter = sweep.plan.parameters[0]
    return f"keeps all gates: {parameter.label} = {', '.join(_range(parameter, run) for run in runs(kept))}"


def runs(kept: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """First and last place of each stretch of values that keep the gates."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], kept.astype(int), [0]]))).reshape(-1, 2)
    return [(int(first), int(end) - 1) for first, end in edges]


def _range(parameter: SweptParameter, run: tuple[int, int]) -> str:
    first, last = (parameter.values[index] for index in run)
    return parameter.said(first) if run[0] == run[1] else f"{first:.4g} to {parameter.said(last)}"


def _current(parameter: SweptParameter) -> str:
    values: Sequence[float] = parameter.current
    return parameter.said(values[0]) if len(values) == 1 else f"{values[0]:.4g} to {parameter.said(values[-1])} by drive mode or corner"


def _gates(sweep: Sweep, *, kept: bool) -> str:
    if not sweep.gated:
        return ""
    return "; keeps all gates" if kept else "; crosses a gate"


def _pct(share: float) -> str:
    return "none" if np.isnan(share) else f"{100.0 * share:.0f} %"
