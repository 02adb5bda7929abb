"""Is there a constant setting that does what the strategy does? Its best settings of hindsight against it, section by section.

The objectives are read from a file that was written before anything was tuned. Every section is driven with every constant
setting of a grid (alike at front and rear, and a coarse grid in which they differ) on the first seed; the best few are driven on
all seeds, and the best of them is polished by steps in each of the four duties, for every section by itself and (on the first seed)
for the whole library. All of that is hindsight that no driver has: it knows the section, and the seeds, before it is driven.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.calibration.model import Calibration
from dualduty.discovery import PlugIns
from dualduty.study.constant_bench import Bench, Plan, Weighed, as_setting, best_setting
from dualduty.study.constant_drives import Drive, driven
from dualduty.study.constant_runs import Setting
from dualduty.study.kept import Kept
from dualduty.study.objectives import Objective
from dualduty.trial.clock import Progress, part_of

Array = NDArray[np.float64]

OWN_SHARE: Final = 0.25  # of the time, measured


@dataclass(eq=False)
class SectionFindings:
    """One section: objective of the calibration by valve lag and mode, and of the constant settings; less is better. [1]

    screened : (setting,) array
        Of every setting of the plan, on the first seed.
    """

    name: str
    objective: Objective
    screened: Array
    best: Setting
    best_value: float
    calibration: dict[tuple[str, str], float] = field(default_factory=dict)
    terms: dict[str, tuple[float, float]] = field(default_factory=dict)


@dataclass(eq=False)
class Findings:
    """All sections, and the best single setting of the library. [1]"""

    calibration: Calibration
    plan: Plan
    sections: list[SectionFindings]
    single: Setting
    single_values: Array

    def own(self, lag: str, mode: str = "") -> Array:
        """Objective of the calibration by section, in the mode that the objective names, or in one mode."""
        return np.array([one.calibration[lag, mode or one.objective.mode] for one in self.sections])

    @property
    def best(self) -> Array:
        """Objective of each section's own best setting."""
        return np.array([one.best_value for one in self.sections])


def constant_study(calibration: Calibration, plan: Plan, plug_ins: PlugIns, progress: Progress, kept: Kept | None = None) -> Findings:
    """Drive everything and find the best settings of hindsight, or take them from what was kept."""
    kept = kept or Kept()
    own = driven(calibration, plan, plug_ins, lambda share: progress(OWN_SHARE * share))
    vehicle = next(iter(plan.vehicles.values()))
    rest = _rest(progress)
    benches: list[Bench] = []
    found: list[SectionFindings] = []
    for number, section in enumerate(plan.sections):
        bench = Bench(section, plan, vehicle)
        benches.append(bench)
        found.append(_of_section(section.name, bench, plan, own, kept))
        part_of(rest, (number, 1), len(plan.sections) + 1)(1.0)
    single = _single(plan, found, benches, kept)
    rest(1.0)
    return Findings(calibration, plan, found, single, np.array([bench.constants([single])[0] for bench in benches]))


def _rest(progress: Progress) -> Progress:
    return lambda share: progress(OWN_SHARE + (1.0 - OWN_SHARE) * share)


def _single(plan: Plan, found: Sequence[SectionFindings], benches: Sequence[Bench], kept: Kept) -> Setting:
    asked, driven = [bench.asked() for bench in benches], [bench.driven() for bench in benches]
    entry = kept.find("the whole library", asked, driven)
    if entry is None:
        screened = np.mean([one.screened for one in found], axis=0)
        on_all, on_first = (_mean([getattr(bench, name) for bench in benches]) for name in ("constants", "screened"))
        best, value = best_setting(plan, screened, on_all, on_first)
        entry = kept.put("the whole library", asked, driven, {"best": best, "value": value})
    return as_setting(entry["best"])


def _mean(objectives: Sequence[Weighed]) -> Weighed:
    return lambda settings: np.asarray(np.mean([objective(settings) for objective in objectives], axis=0))


def _of_section(name: str, bench: Bench, plan: Plan, own: Mapping[Drive, Array], kept: Kept) -> SectionFindings:
    entry = kept.find(name, bench.asked(), bench.driven())
    if entry is None:
        screened = bench.screened(plan.settings)
        best, value = best_setting(plan, screened, bench.constants)
        entry = kept.put(name, bench.asked(), bench.driven(), {"screened": screened.tolist(), "best": best, "value": value})
    best = as_setting(entry["best"])
    found = SectionFindings(name, bench.objective, np.array(entry["screened"]), best, float(entry["value"]))
    at_best = bench.terms([bench.raw(course, [best]) for course in bench.courses])[:, 0]
    first, weighed = next(iter(plan.vehicles)), bench.objective.mode
    for lag, mode in dict.fromkeys((one.lag, one.mode) for one in own if one.section == name):
        terms = bench.terms([own[Drive(lag, name, mode, seed)][:, None] for seed in plan.seeds])[:, 0]
        found.calibration[lag, mode] = float(terms.sum())
        if (lag, mode) == (first, weighed):
            pairs = zip(plan.measures, terms, at_best, strict=True)
            found.terms = {measure.name: (float(mine), float(its)) for measure, mine, its in pairs if mine or its}
    return found
