"""Which pictures of a trial are worth drawing, and their files."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dualduty.car import Car
from dualduty.report.figure_file import png_bytes
from dualduty.report.gather import Gathered, gather
from dualduty.report.score_grid import Order
from dualduty.report.score_picture import draw_scores
from dualduty.report.time_series import draw_duties, draw_overview
from dualduty.scoring.scorecard import Scorecard
from dualduty.trial.log_outcome import Drawn
from dualduty.trial.side_work import SideWork
from dualduty.trial.simulate import Simulated


def order_of(simulated: Simulated) -> Order:
    """Sections as they were driven and measures as they are filed, for grids that can be compared from day to day."""
    sections = tuple(dict.fromkeys(case.section for case in simulated.scores.cases))
    return Order(sections=sections, measures=tuple(measure.name for measure in simulated.scores.measures))


def score_pictures(rows: list[dict[str, object]], order: Order) -> list[Drawn]:
    """One picture of a scorecard's rows for each drive mode in which anything moved at all."""
    drawn = []
    for mode in dict.fromkeys(str(row["mode"]) for row in rows):
        mine = [row for row in rows if row["mode"] == mode]
        if any(row["verdict"] not in ("identical", "not comparable") for row in mine):
            words = f"Table of {len(mine)} cells, better, same or worse"
            png = png_bytes(draw_scores(mine, mode, order))
            drawn.append(Drawn(f"scores_{mode}.png", png, f"Scorecard, {mode}", words, mode))
    return drawn


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


def section_pictures(simulated: Simulated, scorecard: Scorecard, car: Car, side: SideWork) -> list[Drawn]:
    """Motion and duties, baseline and candidate, on the telling sections; half of them drawn in the helper process."""
    waiting = []
    for section, mode, why in telling_places(scorecard):
        trace, candidate = simulated.find(section, mode, scorecard.candidate)
        base_trace, baseline = simulated.find(section, mode, scorecard.baseline)
        pair = (gather(trace, [candidate])[0], gather(base_trace, [baseline])[0])
        named = f"{section.replace('_', ' ')}, {mode} ({why})"
        motion = side.submit("dualduty.trial.pictures:motion_png", *pair, EndStops(car.stroke, car.bump_contact))
        duties = duties_png(*pair)
        waiting.append((section, mode, named, motion, duties))
    drawn = []
    for section, mode, named, motion, duties in waiting:
        words = "Speed, travel, roll, pitch and states over time"
        drawn.append(Drawn(f"motion_{section}_{mode}.png", motion.result(), f"Motion: {named}", words, mode))
        words = "Duty of each corner and side over time, and the layer that decided"
        drawn.append(Drawn(f"duties_{section}_{mode}.png", duties, f"Duties and layers: {named}", words, mode))
    return drawn


@dataclass(frozen=True)
class EndStops:
    """What the motion picture needs of a car, (4,) arrays. [m]"""

    stroke: NDArray[np.float64]
    bump_contact: NDArray[np.float64]


def motion_png(after: Gathered, before: Gathered, stops: EndStops) -> bytes:
    """The motion picture as PNG."""
    return png_bytes(draw_overview(after, before, stops))


def duties_png(after: Gathered, before: Gathered) -> bytes:
    """The duties picture as PNG."""
    return png_bytes(draw_duties(after, before))
