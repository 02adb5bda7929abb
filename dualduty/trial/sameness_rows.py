"""A sameness comparison as tables for any spreadsheet."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from math import isnan

from dualduty.signals import CORNERS, SIDES
from dualduty.trial.sameness_parting import Stretch
from replay.sameness.sameness import Sameness, ratio


def agreement_csv(found: Sameness) -> str:
    """A row per side, corner and drive mode, and one per side and deciding layer."""
    tally = found.tally
    rows = [
        _row(found, (side, CORNERS[corner], mode, ""), tally.compared[row, corner, index], tally.agreeing[row, corner, index])
        for row, side in enumerate(SIDES)
        for corner in range(len(CORNERS))
        for index, mode in enumerate(found.modes)
        if tally.compared[row, corner, index]
    ]
    rows += [
        _row(found, (side, "", "", layer), tally.layer_compared[row, index], tally.layer_agreeing[row, index])
        for row, side in enumerate(SIDES)
        for index, layer in enumerate(found.layers)
        if tally.layer_compared[row, index]
    ]
    return _text(("side", "corner", "drive_mode", "decided_by", "compared_s", "agree_pct"), rows)


def _row(found: Sameness, names: tuple[str, ...], compared: int, agreeing: int) -> list[str]:
    return [*names, f"{compared * found.dt:.3f}", f"{100 * ratio(agreeing, compared):.3f}"]


def events_csv(found: Sameness) -> str:
    """A row per event of a logged state: when it was logged, when replayed; empty where only one has it."""
    rows = [
        [state.state, event.corner, *(_number(time, 3) for time in (*event.logged, *event.replayed)), _number(1e3 * event.off, 0)]
        for state in found.states
        for event in state.events
    ]
    return _text(("state", "corner", "logged_start_s", "logged_end_s", "replayed_start_s", "replayed_end_s", "off_ms"), rows)


def partings_csv(stretches: Sequence[Stretch]) -> str:
    """A row per window in which a candidate parts from the log."""
    head = (
        "start_s", "end_s", "corner", "side", "drive_mode", "apart_pct", "driver_apart_pct", "decided_by", "driver_decided_by", "states",
        "told",
    )  # fmt: skip
    rows = [
        [
            f"{one.start:.3f}", f"{one.end:.3f}", CORNERS[one.corner], one.side, one.mode, _number(100 * one.apart, 3),
            _number(100 * one.driver_apart, 3), one.layer, one.driver_layer, " ".join(one.states), " / ".join(one.words),
        ]
        for one in stretches
    ]  # fmt: skip
    return _text(head, rows)


def _number(value: float, digits: int) -> str:
    return "" if isnan(value) else f"{value:.{digits}f}"


def _text(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(head)
    writer.writerows(rows)
    return out.getvalue()
