"""The study of constant duties in words: what stands between the markers of `constants.md`."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.cautions import simulated
from dualduty.study.constant_runs import said
from dualduty.study.constant_study import Findings, SectionFindings
from dualduty.study.markdown import plain, table

Array = NDArray[np.float64]

WORDS: Final = {-1: "better", 0: "draw", 1: "worse"}
MOST_TERMS: Final = 3
FRESH: Final = """# The strategy against constant duties

Is there a constant setting that does what the strategy does? Made by `dualduty constant-study`; what stands between the markers is
written anew by each run, the rest is not touched.

What counts on which section, in which drive mode it is driven, and the seeds stand in `objectives.toml`, which was committed before
anything was tuned. An objective is a weighted sum of measures, each divided by what a fixed setting gives on the same section,
vehicle and seed; less is better. Constant duties are driven with the same vehicle over the same ground. They need no sensors and know
no valve lag (their runs are the same to the bit whatever the lag); the calibration has typical sensors, its own lag, and the numbers
of the type, not of this vehicle.

Two kinds of hindsight are held against it: the *best single constant* of the whole library, and the *best constant of each section*,
as if somebody who knew the section had set the dampers with four clicks before every start. Both are searched on a grid, alike at
front and rear and with a coarse split, and then polished in all four duties on the very seeds they are judged by. That is more than
any driver has.

<!-- made: setting -->
<!-- end -->

## Verdict

<!-- made: verdict -->
<!-- end -->

![Section by section](constants.png)

## Section by section

<!-- made: sections -->
<!-- end -->

## Where it loses, and by what

The terms of the objective that cost most, weights included.

<!-- made: losses -->
<!-- end -->

## By drive mode

The calibration driven in one mode everywhere.

<!-- made: modes -->
<!-- end -->
"""


def constant_words(found: Findings) -> dict[str, str]:
    """The stretches of the document, by marker."""
    return {
        "setting": _setting(found), "verdict": _verdict(found), "sections": _sections(found), "losses": _losses(found),
        "modes": _modes(found),
    }  # fmt: skip


def compared(mine: Array, other: Array, draw: float) -> NDArray[np.int_]:
    """-1 where mine is less by more than a share of the other, 1 where it is more by as much, else 0 (a draw)."""
    return np.where(mine < other * (1.0 - draw), -1, np.where(mine > other * (1.0 + draw), 1, 0))


def _setting(found: Findings) -> str:
    plan, objectives = found.plan, found.plan.objectives
    vehicle = next(iter(plan.vehicles.values()))
    rows = [
        ["calibration", f"{found.calibration.name}, {found.calibration.digest}"],
        ["vehicle", f"{vehicle.car.name}; valves {', '.join(plan.vehicles)}"],
        ["sections, seeds", f"{len(plan.sections)}; {', '.join(str(seed) for seed in plan.seeds)}"],
        ["constant settings", f"{len(plan.levels)} alike at front and rear, {len(plan.splits)} that differ, the best polished"],
        ["1.00 is", f"constant {said((*objectives.reference, *objectives.reference))}"],
        ["a draw is", f"a difference within {100 * objectives.draw_within:g} %"],
        ["said of the plant", simulated(vehicle.stamp)],
    ]
    return table(["what", "value"], rows).replace("---:", "---")


def _verdict(found: Findings) -> str:
    head = ["valves", "calibration", "best single constant", "best constant of each section", "against the single: better, draw, worse",
            "against each section's own: better, draw, worse"]  # fmt: skip
    rows = []
    for lag in found.plan.vehicles:
        own, draw = found.own(lag), found.plan.objectives.draw_within
        means = [f"{values.mean():.3f}" for values in (own, found.single_values, found.best)]
        rows.append([lag, *means, *(_counts(compared(own, other, draw)) for other in (found.single_values, found.best))])
    return f"{_sentence(found)}\n\n{table(head, rows)}"


def _sentence(found: Findings) -> str:
    own = {lag: found.own(lag).mean() for lag in found.plan.vehicles}
    single = found.single_values.mean()
    beaten = [lag for lag, value in own.items() if single < value]
    who = (
        f"beats the calibration over the library (valves {', '.join(beaten)})"
        if beaten
        else "does not beat it over the library, at any valve lag"
    )
    return f"The best single constant setting of hindsight is {said(found.single)} with {single:.3f}; it {who}."


def _counts(verdicts: NDArray[np.int_]) -> str:
    return ", ".join(str(int((verdicts == value).sum())) for value in WORDS)


def _sections(found: Findings) -> str:
    lags = list(found.plan.vehicles)
    head = [
        "section",
        "kind",
        "mode",
        *(f"calibration, {lag}" for lag in lags),
        "single constant",
        "own best constant",
        "which is",
        "difference",
        "it is",
    ]
    own, draw = found.own(lags[0]), found.plan.objectives.draw_within
    verdicts = compared(own, found.best, draw)
    rows = []
    for number, one in enumerate(found.sections):
        mode = one.objective.mode
        mine = [f"{one.calibration[lag, mode]:.3f}" for lag in lags]
        change = f"{100 * (own[number] / one.best_value - 1.0):+.1f} %"
        rows.append([plain(one.name), plain(one.objective.kind), mode, *mine, f"{found.single_values[number]:.3f}", f"{one.best_value:.3f}",
                     said(one.best), change, WORDS[int(verdicts[number])]])  # fmt: skip
    return table(head, rows)


def _losses(found: Findings) -> str:
    own, draw = found.own(next(iter(found.plan.vehicles))), found.plan.objectives.draw_within
    losing = [found.sections[number] for number in np.flatnonzero(compared(own, found.best, draw) > 0)]
    losing.sort(key=lambda one: -(sum(mine for mine, _ in one.terms.values()) / one.best_value))
    labels = {measure.name: measure.label for measure in found.plan.measures}
    rows = [[plain(one.name), said(one.best), _terms(one, labels)] for one in losing]
    return table(["section", "its best constant", "terms of the objective: calibration against that constant"], rows).replace("---:", "---")


def _terms(one: SectionFindings, labels: dict[str, str]) -> str:
    ordered = sorted(one.terms.items(), key=lambda item: item[1][1] - item[1][0])[:MOST_TERMS]
    return "; ".join(f"{labels[name]} {mine:.3f} against {its:.3f}" for name, (mine, its) in ordered)


def _modes(found: Findings) -> str:
    first, draw = next(iter(found.plan.vehicles)), found.plan.objectives.draw_within
    rows = []
    for mode in found.plan.modes:
        own = found.own(first, mode)
        counts = [_counts(compared(own, other, draw)) for other in (found.single_values, found.best)]
        rows.append([mode, f"{own.mean():.3f}", *counts])
    head = ["mode, everywhere", "calibration", "against the single: better, draw, worse", "against each section's own: better, draw, worse"]
    return table(head, rows)
