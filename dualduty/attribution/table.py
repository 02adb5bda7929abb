"""A window as numbers for any spreadsheet: a row per tick and side, three columns per layer."""

from __future__ import annotations

import csv
import io

import numpy as np

from dualduty.attribution.data import Attribution, row_of
from dualduty.signals import CORNERS
from dualduty.trace import FLAG_LABELS


def csv_text(told: Attribution, corner: int, sides: tuple[str, ...]) -> str:
    """CSV of one corner; duties and shares in per cent, empty where a layer leaves the side alone."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    layers = [f"{layer.name}: {what}_pct" for layer in told.layers for what in ("open", "asks", "after")]
    states = [f"state {name}" for name in told.states]
    writer.writerow(["time_s", "corner", "side", "drive_mode", "duty_pct", "layers_pct", "decided_by", "flags", *layers, *states])
    for side in sides:
        row = row_of(corner, side)
        parts = [told.share[:, row], told.asked[:, row], told.after[:, row]]
        for column, time in enumerate(told.time):
            numbers = [_percent(float(part[index, column])) for index in range(len(told.layers)) for part in parts]
            flags = int(told.flags[row, column])
            writer.writerow([
                f"{time:.4f}", CORNERS[corner], side, told.modes[int(told.mode[column])],
                _percent(float(told.duty[row, column])), _percent(float(told.stack[row, column])),
                told.layers[int(told.decider[row, column])].name, " ".join(label for flag, label in FLAG_LABELS.items() if flags & flag),
                *numbers, *(int(values[corner if len(values) > 1 else 0, column]) for values in told.states.values()),
            ])  # fmt: skip
    return out.getvalue()


def _percent(value: float) -> str:
    return "" if np.isnan(value) else f"{100.0 * value:.6g}"
