"""The detector study in words: what stands between the markers of `detectors.md`."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np

from dualduty.cautions import simulated
from dualduty.study.detection_events import CLASSES, Events, Outcome, class_label
from dualduty.study.detector_study import Findings
from dualduty.study.markdown import milliseconds, plain, spread, table
from dualduty.study.touchdown import Touchdown
from dualduty.study.trade_off import Point, TradeOff

MUST: Final = 0.12  # s in the air from which a landing must be seen
IN_TIME: Final = 0.1  # s after touchdown
MOST_SECTIONS: Final = 4
FRESH: Final = """# Detectors against truth

What the detectors of a calibration report, held against what the simulated vehicle did. Made by `dualduty detector-study`; what
stands between the markers is written anew by each run, the rest is not touched.

Every section of the library is driven in closed loop, in every drive mode, with each vehicle and seed, and a ladder of jumps beside
it: the library's kicker at five lip heights and four speeds, since the library itself flies little. Neither vehicle is the one the
calibration was written for.

<!-- made: setting -->
<!-- end -->

## By state and duration

A true interval is *found* by the one detection paired with it (as many pairs as possible, then the closest onsets), *merged* when the
detection that covers it is paired with another one, *missed* when none touches it; edges are soft by 20 ms. Latencies are signed:
plus is late. The onset of flight is the moment the last wheel leaves the ground, so a pre-arm that sees the front axle rise is
early. A landing is classed by the time in the air before it, and stays open on purpose. Hops of 30 to 120 ms are listed apart.

<!-- made: states -->
<!-- end -->

## False detections

A detection is false when it touches neither a true interval nor a stretch in which nobody is sure (the state is true by softer
limits only; one axle is off the ground). Second detections of the same interval are fragments. Per minute of time in which there
was nothing to detect; of a state by corner, per minute and corner.

<!-- made: false -->
<!-- end -->

## By vehicle

<!-- made: vehicles -->
<!-- end -->

## Landing duty reached before touchdown

The figure that counts. Per flight, the least of four corners: the time by which the valve itself, lag included, held the landing duty
before that wheel came down. The landing duty is the firmest that a layer opened by the landing commands within 60 ms of touchdown;
where none does, what a layer opened by flight commands there. Within 5 % of duty counts as reached. Plus is before touchdown.

<!-- made: touchdown -->
<!-- end -->

## Trade-off of the flight detector

![Latency against false alarms](airborne_trade_off.png)

What the controller saw in the drives of the first seed and drive mode, replayed open loop through many candidates at once. A vehicle
that had been prepared earlier or later would have moved a little differently; the detector's inputs would hardly have changed.

<!-- made: trade-off -->
<!-- end -->
"""


def detector_words(found: Findings, curve: TradeOff) -> dict[str, str]:
    """The stretches of the document, by marker."""
    return {
        "setting": _setting(found), "states": _states(found.events), "false": _false(found.events), "vehicles": _vehicles(found),
        "touchdown": _touchdowns(found.touchdowns), "trade-off": _trade_off(curve),
    }  # fmt: skip


def _setting(found: Findings) -> str:
    plan = found.plan
    stamps = dict.fromkeys(simulated(vehicle.stamp) for vehicle in plan.vehicles.values())
    rows = [
        ["calibration", f"{found.calibration.name}, {found.calibration.digest}"],
        ["vehicles", ", ".join(plan.vehicles)],
        ["driven", f"{len(plan.sections)} sections and {len(plan.further)} jumps of a ladder, in {', '.join(plan.modes)}"],
        ["seeds", ", ".join(str(seed) for seed in plan.seeds)],
        ["in all", f"{found.drives} drives, {found.minutes:.0f} min"],
        ["said of the plant", "; ".join(stamps)],
    ]
    return table(["what", "value"], rows).replace("---:", "---")


def _states(events: Events) -> str:
    head = ["state, lasting", "true", "found", "merged", "missed", "onset median, ms", "p90", "latest", "offset median, ms", "p90", "worst"]
    return table(head, [row for state in events.tallies for row in _state_rows(events, state)])


def _state_rows(events: Events, state: str) -> Iterator[list[str]]:
    mine = [one for one in events.outcomes if one.state == state]
    for bounds in CLASSES:
        these = [one for one in mine if bounds[0] - 1e-9 <= one.size < bounds[1] - 1e-9]
        if these:
            yield [f"{plain(state)}, {class_label(bounds)}", str(len(these)), *_counts(these), *_latencies(these)]


def _counts(these: Sequence[Outcome]) -> list[str]:
    return [str(sum(one.kind == kind for one in these)) for kind in ("found", "merged", "missed")]


def _latencies(these: Sequence[Outcome]) -> list[str]:
    hits = [one for one in these if one.kind == "found"]
    return [*spread([one.onset for one in hits]), *spread([one.offset for one in hits], "worst")]


def _false(events: Events) -> str:
    head = ["state", "false per min", "false", "they last, ms", "fragments", "nobody sure", "quiet time, min", "where"]
    rows = []
    for state, tally in events.tallies.items():
        worst = sorted(tally.false_by_section, key=lambda name: -tally.false_by_section[name])[:MOST_SECTIONS]
        where = ", ".join(f"{plain(name)} {tally.false_by_section[name]}" for name in worst)
        last = f"{1e3 * tally.false_time / tally.false:.0f}" if tally.false else "-"
        rows.append([plain(state), f"{tally.false_per_minute:.2g}", str(tally.false), last, str(tally.fragments), str(tally.ignored),
                     f"{tally.quiet_time / 60.0:.1f}", where or "-"])  # fmt: skip
    return table(head, rows)


def _vehicles(found: Findings) -> str:
    head = ["vehicle, state", "true", "found", "merged", "missed", "onset median, ms", "p90", "latest", "false per min"]
    rows = []
    for label, events in found.by_vehicle.items():
        for state, tally in events.tallies.items():
            mine = [one for one in events.outcomes if one.state == state]
            if not mine and not tally.false:
                continue
            late = spread([one.onset for one in mine if one.kind == "found"])
            rows.append([f"{label}, {plain(state)}", str(len(mine)), *_counts(mine), *late, f"{tally.false_per_minute:.2g}"])
    return table(head, rows)


def _touchdowns(every: Sequence[Touchdown]) -> str:
    head = ["air time", "flights", "prepared", "compression in time", "median, ms", "least", "rebound in time", "median, ms", "least",
            "landing seen in time", "its onset median, ms", "latest"]  # fmt: skip
    rows = []
    for bounds in CLASSES:
        these = [one for one in every if bounds[0] - 1e-9 <= one.air_time < bounds[1] - 1e-9]
        if these:
            seen = [one for one in these if one.landing_after <= IN_TIME]
            rows.append([class_label(bounds), str(len(these)), str(sum(one.prepared for one in these)), *_margins(these, "compression"),
                         *_margins(these, "rebound"), str(len(seen)), *_landing(seen)])  # fmt: skip
    return "\n\n".join([table(head, rows), _must(every)])


def _margins(these: Sequence[Touchdown], side: str) -> list[str]:
    known = [value for one in these if not np.isnan(value := getattr(one, side))]
    if not known:
        return ["0", "-", "-"]
    return [str(sum(value >= 0 for value in known)), milliseconds(float(np.median(known))), milliseconds(min(known))]


def _landing(seen: Sequence[Touchdown]) -> list[str]:
    late = [one.landing_after for one in seen]
    return [milliseconds(float(np.median(late))), milliseconds(max(late))] if late else ["-", "-"]


def _must(every: Sequence[Touchdown]) -> str:
    must = [one for one in every if one.air_time >= MUST - 1e-9]
    missed = [one for one in must if not one.landing_after <= IN_TIME]
    late = [one for one in must if not (one.prepared and min(one.compression, one.rebound) >= 0)]
    ready = len(must) - len(late)
    return (
        f"Landings after {1e3 * MUST:.0f} ms in the air or more must be seen within {1e3 * IN_TIME:.0f} ms of touchdown: {len(missed)} of "
        f"{len(must)} missed{_named(missed)}.\nLanding duty reached before touchdown at every corner, on both sides: in {ready} of "
        f"{len(must)}{_named(late, 'not')}."
    )


def _named(these: Sequence[Touchdown], word: str = "") -> str:
    names = list(dict.fromkeys(f"{plain(one.section)} in {one.mode}" for one in these))
    more = f" and {len(names) - MOST_SECTIONS} more" if len(names) > MOST_SECTIONS else ""
    return f" ({f'{word} ' if word else ''}{', '.join(names[:MOST_SECTIONS])}{more})" if names else ""


def _trade_off(found: TradeOff) -> str:
    head = ["candidate", "onset median, ms", "p90", "false per min", "flights found", "hops found"]
    rows = [_point_row(f"**{plain(state)}, as calibrated**", point) for state, point in found.baseline.items()]
    for state in found.baseline:
        rows += [_point_row(f"{plain(state)}: {_said(found, point)}", point) for point in efficient(found, state)]
    rows_tried = sum(len(points) for _, points in found.families)
    words = (
        f"{rows_tried} candidate rows over {found.drives} drives, {found.minutes:.0f} min. Listed: the calibration as it is, and every "
        "row that no other beats in both latency (90th percentile) and false alarms, among those that find every flight of "
        f"{1e3 * MUST:.0f} ms and more."
    )
    return f"{words}\n\n{table(head, rows)}"


def efficient(found: TradeOff, state: str) -> list[Point]:
    """Points of a state that find every flight and that no other such point beats in both latency and false alarms."""
    every = [point for family, points in found.families if family.state == state for point in points if point.found == point.flights > 0]
    best: list[Point] = []
    for point in sorted(every, key=lambda one: (one.p90, one.false_per_minute)):
        if not best or point.false_per_minute < best[-1].false_per_minute:
            best.append(point)
    return best


def _point_row(label: str, point: Point) -> list[str]:
    found = [f"{point.found} of {point.flights}", f"{point.hops_found} of {point.hops}"]
    return [label, milliseconds(point.median), milliseconds(point.p90), f"{point.false_per_minute:.2g}", *found]


def _said(found: TradeOff, point: Point) -> str:
    return ", ".join(f"{plain(name.removesuffix('_hz'))} {found.said(name, value)}" for name, value in point.values.items())
