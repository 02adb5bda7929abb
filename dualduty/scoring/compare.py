"""A candidate beside its baseline: section by section, mode by mode, measure by measure."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import nan
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from dualduty.errors import BadInput
from dualduty.scoring.gate import Gate, GateCheck
from dualduty.scoring.noise import CONFIDENCE, NoiseBand, Scatter, band_of
from dualduty.scoring.scorecard import Cell, Scorecard, Verdict, worst_first

if TYPE_CHECKING:
    from dualduty.scoring.measure import Measure
    from dualduty.scoring.score import Scores

Array = NDArray[np.float64]
Place = tuple[str, str, str]  # section, mode, vehicle


@dataclass(frozen=True)
class _Pairs:
    """Cases of one place that differ in nothing but the calibration, as indices of baseline and candidate."""

    place: Place
    baseline: tuple[int, ...]
    candidate: tuple[int, ...]


@dataclass(frozen=True)
class _Looked:
    """One cell before the verdict: values of both by run, `(run,)`, and why some or all are missing."""

    pairs: _Pairs
    measure: Measure
    before: Array
    after: Array
    reason: str

    @property
    def section(self) -> str:
        return self.pairs.place[0]

    @property
    def differences(self) -> Array:
        """Paired differences of the runs that have both values."""
        both = self.after - self.before
        return both[np.isfinite(both)]


def compare(
    scores: Scores,
    baseline: str,
    candidate: str,
    noise: NoiseBand | None = None,
    gates: Sequence[Gate] = (),
    confidence: float = CONFIDENCE,
) -> Scorecard:
    """Compare two calibrations over all places both were scored in; runs are paired by seed.

    The band of a cell is the larger of the measure's own `matters` and, where the scatter of the paired difference is
    known from repeat seeds or from `noise`, its interval at `confidence` shared out over all cells (Bonferroni).
    """
    confidence = noise.confidence if noise else confidence
    looked = list(_look(scores, baseline, candidate))
    cells = sum(bool(one.differences.size) for one in looked)
    judged = [_judge(one, _scatter(one, noise), cells, confidence) for one in looked]
    judged = [
        replace(cell, corner=scores.worst_corner(cell.measure.name, one.pairs.candidate[0]))
        for cell, one in zip(judged, looked, strict=True)
    ]
    return Scorecard(
        baseline=baseline,
        candidate=candidate,
        cells=worst_first(judged),
        gates=tuple(check for gate in gates for check in _check(gate, scores, looked)),
        compared=cells,
        confidence=confidence,
        stamp=scores.stamp,
        notes=scores.notes,
    )


def pooled_noise(scores: Scores, baseline: str, candidate: str, confidence: float = CONFIDENCE) -> NoiseBand:
    """Scatter of the paired differences, pooled over the drive modes and vehicles of each section."""
    parts: dict[tuple[str, str], list[Scatter]] = defaultdict(list)
    for one in _look(scores, baseline, candidate):
        scatter = Scatter.of(one.differences)
        if scatter:
            parts[one.section, one.measure.name].append(scatter)
    pooled = {key: Scatter.pooled(found) for key, found in parts.items()}
    return NoiseBand({key: scatter for key, scatter in pooled.items() if scatter}, confidence)


def _pair(scores: Scores, baseline: str, candidate: str) -> list[_Pairs]:
    """Places where both calibrations were scored with the same seeds, in the order of the cases."""
    found: dict[Place, dict[str, dict[int, int]]] = {}
    for index, case in enumerate(scores.cases):
        if case.candidate not in (baseline, candidate):
            continue
        seeds = found.setdefault((case.section, case.mode, case.vehicle), {}).setdefault(case.candidate, {})
        if case.seed in seeds:
            raise BadInput("scores", f"{case.label}, seed {case.seed}, was scored twice; expected each case once")
        seeds[case.seed] = index
    pairs = []
    for place, by_name in found.items():
        before, after = by_name.get(baseline, {}), by_name.get(candidate, {})
        common = sorted(before.keys() & after.keys())
        if common:
            pairs.append(_Pairs(place, tuple(before[seed] for seed in common), tuple(after[seed] for seed in common)))
    return pairs


def _look(scores: Scores, baseline: str, candidate: str) -> Iterator[_Looked]:
    names = list(dict.fromkeys(case.candidate for case in scores.cases))
    for name in (baseline, candidate):
        if name not in names:
            raise BadInput("compare", f"expected one of the scored calibrations {', '.join(names)}; got {name!r}")
    pairs = _pair(scores, baseline, candidate)
    if not pairs:
        raise BadInput("compare", f"{baseline!r} and {candidate!r} have no section, mode and seed in common")
    for pair in pairs:
        for row, measure in enumerate(scores.measures):
            before, of_before = _values(scores, row, pair.baseline)
            after, of_after = _values(scores, row, pair.candidate)
            lost = int((~np.isfinite(after - before)).sum())
            told = "; ".join(text for text in dict.fromkeys((_named(baseline, of_before), _named(candidate, of_after))) if text)
            share = f"{lost} of {len(after)} seeds left out: " if 0 < lost < len(after) else ""
            yield _Looked(pair, measure, before, after, share + told if lost else "")


def _values(scores: Scores, row: int, cases: tuple[int, ...]) -> tuple[Array, str]:
    """Values of one measure by run, NaN where they speak of another calibration; and why there are none."""
    name = scores.measures[row].name
    strange = [scores.belongs_to(name, case) != scores.cases[case].candidate for case in cases]
    values = np.where(strange, nan, scores.values[row, list(cases)])
    if any(strange):
        return values, f"open loop: belongs to {scores.belongs_to(name, cases[0])}, which drove the log"
    return values, next((scores.reasons[row][case] for case in cases if scores.reasons[row][case]), "")


def _named(name: str, reason: str) -> str:
    return f"{name}: {reason}" if reason else ""


def _scatter(one: _Looked, noise: NoiseBand | None) -> Scatter | None:
    known = noise.find(one.section, one.measure.name) if noise else None
    return known or Scatter.of(one.differences)


def _judge(one: _Looked, scatter: Scatter | None, cells: int, confidence: float) -> Cell:
    """Verdict of one cell."""
    differences = one.differences
    section, mode, vehicle = one.pairs.place
    both = np.isfinite(one.after - one.before)
    cell = Cell(section, mode, vehicle, one.measure, reason=one.reason, runs=int(differences.size))
    if not differences.size:
        return replace(cell, baseline=_mean(one.before), candidate=_mean(one.after))
    before, after, change = float(one.before[both].mean()), float(one.after[both].mean()), float(differences.mean())
    matters = one.measure.matters.band(before)
    half_width, band = band_of(matters, scatter, differences.size, cells, confidence)
    verdict = "identical" if not differences.any() else _verdict(one.measure, change, matters, half_width)
    more = 0
    if verdict == "can't tell" and scatter:
        more = scatter.runs_to_see(max(matters, abs(change)), cells, confidence) - differences.size
    return replace(
        cell, baseline=before, candidate=after, change=change, matters=matters, half_width=half_width if scatter else nan, band=band,
        verdict=verdict, more_runs=max(more, 0),
    )  # fmt: skip


def _verdict(measure: Measure, change: float, matters: float, half_width: float) -> Verdict:
    """Beyond the band it moved; within it nothing did, unless the scatter hides more than what matters."""
    if abs(change) > max(matters, half_width):
        if measure.direction == "none":
            return "changed"
        return "better" if (change < 0) == (measure.direction == "lower") else "worse"
    return "can't tell" if half_width > matters else "same"


def _mean(values: Array) -> float:
    known = values[np.isfinite(values)]
    return float(known.mean()) if known.size else nan


def _check(gate: Gate, scores: Scores, looked: Sequence[_Looked]) -> list[GateCheck]:
    """A gate against every cell it covers, by the worst seed; a gate that covers none is told, not dropped."""
    measure = scores.measures[scores.row(gate.measure)]
    covered = [one for one in looked if gate.covers(one.measure.name, one.pairs.place[0], one.pairs.place[1])]
    if not covered:
        return [GateCheck(gate, measure, reason="no section or mode of this comparison is covered")]
    return [_check_cell(gate, one) for one in covered]


def _check_cell(gate: Gate, one: _Looked) -> GateCheck:
    worst = np.min if one.measure.direction == "higher" else np.max
    value, before = (float(worst(values[np.isfinite(values)])) if np.isfinite(values).any() else nan for values in (one.after, one.before))
    lost = not np.isfinite(one.after).all()
    crossed = gate.is_crossed(value, one.measure) or (None if lost else False)
    return GateCheck(gate, one.measure, *one.pairs.place, value=value, baseline=before, crossed=crossed, reason=one.reason)
