"""Which pictures of a trial are worth drawing, and their files."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from matplotlib.figure import Figure

from dualduty.car import Car
from dualduty.report.gather import gather
from dualduty.report.score_grid import Order
from dualduty.report.score_picture import draw_scores
from dualduty.report.time_series import draw_duties, draw_overview
from dualduty.scoring.scorecard import Scorecard
from dualduty.trial.logs import Replayed
from dualduty.trial.simulate import Simulated

Row = dict[str, Any]


@dataclass(frozen=True)
class Drawn:
    """A figure with its file name, and what it shows in words."""

    file: str
    figure: Figure
    title: str
    alternative: str
    group: str


def order_of(simulated: Simulated) -> Order:
    """Sections as they were driven and measures as they are filed, for grids that can be compared from day to day."""
    sections = tuple(dict.fromkeys(case.section for case in simulated.scores.cases))
    return Order(sections=sections, measures=tuple(measure.name for measure in simulated.scores.measures))


def score_pictures(scorecard: Scorecard, order: Order) -> Iterator[Drawn]:
    """One picture of the scorecard for each drive mode in which anything moved at all."""
    rows = scorecard.to_rows()
    for mode in dict.fromkeys(str(row["mode"]) for row in rows):
        mine = [row for row in rows if row["mode"] == mode]
        if any(row["verdict"] not in ("identical", "not comparable") for row in mine):
            yield Drawn(
                f"scores_{mode}.png",
                draw_scores(mine, mode, order),
                f"Scorecard, {mode}",
                f"Table of {len(mine)} cells, better, same or worse",
                mode,
            )


def telling_places(scorecard: Scorecard, most: int = 2) -> list[tuple[str, str, str]]:
    """Section, drive mode and reason: where the candidate got worst, and where it got best."""
    places: dict[tuple[str, str], str] = {}
    for verdict in ("worse", "better"):
        cells = [cell for cell in scorecard.cells if cell.verdict == verdict]
        ranked = sorted(cells, key=lambda cell: cell.worsening, reverse=verdict == "worse")
        fresh = [cell for cell in ranked if (cell.section, cell.mode) not in places] or ranked
        for cell in fresh[:1]:
            places.setdefault((cell.section, cell.mode), f"{verdict}: {cell.measure.label}")
    if not places:
        moved = [cell for cell in scorecard.cells if cell.verdict != "identical"]
        for cell in moved[:1]:
            places[cell.section, cell.mode] = "changed most"
    return [(section, mode, why) for (section, mode), why in places.items()][:most]


def section_pictures(simulated: Simulated, scorecard: Scorecard, car: Car) -> Iterator[Drawn]:
    """Motion and duties, baseline and candidate, on the telling sections."""
    for section, mode, why in telling_places(scorecard):
        trace, candidate = simulated.find(section, mode, scorecard.candidate)
        base_trace, baseline = simulated.find(section, mode, scorecard.baseline)
        after = gather(trace, [candidate])[0]
        before = gather(base_trace, [baseline])[0]
        named = f"{section.replace('_', ' ')}, {mode} ({why})"
        yield Drawn(
            f"motion_{section}_{mode}.png",
            draw_overview(after, before, car),
            f"Motion: {named}",
            "Speed, travel, roll, pitch and states",
            mode,
        )
        yield Drawn(
            f"duties_{section}_{mode}.png", draw_duties(after, before), f"Duties and layers: {named}", "Duty of each corner and side", mode
        )


def log_pictures(replayed: Sequence[Replayed]) -> Iterator[tuple[Replayed, Drawn]]:
    """Duties and layers of each replayed log, baseline and candidate."""
    for one in replayed:
        before, after = gather(one.traces[0])[0], gather(one.traces[-1])[0]
        title = f"Duties and layers: log {one.sheet.name}"
        yield (
            one,
            Drawn(
                f"duties_log_{one.sheet.name}.png", draw_duties(after, before), title, "Duty of each corner and side over the log", "logs"
            ),
        )
