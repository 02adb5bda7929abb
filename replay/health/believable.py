"""Values beyond all belief: a wrong unit, a wrong scale or a wrong column in the map."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.units import STANDARD_GRAVITY, unit
from replay.health.channels import Row
from replay.health.effects import untrusted
from replay.health.finding import IMPAIRS, SPOILS, Finding
from replay.health.motion import MOVING, felt, speed
from replay.health.slow_copy import SlowMotion

Array = NDArray[np.float64]
OUTSIDE: Final = 0.05  # share of the time beyond belief from which a channel is told
MOSTLY: Final = 0.5
# Factors that slips make, and the slip.
SLIPS: Final = {
    1e3: "m taken as mm", 1e-3: "mm taken as m", STANDARD_GRAVITY: "m/s² taken as g", 1.0 / STANDARD_GRAVITY: "g taken as m/s²",
    180.0 / np.pi: "deg taken as rad", np.pi / 180.0: "rad taken as deg", 25.4: "mm taken as inch", 1.0 / 25.4: "inch taken as mm",
    10.0: "cm and mm exchanged", 0.1: "cm and mm exchanged", 100.0: "per cent taken as share", 0.01: "share taken as per cent",
}  # fmt: skip
_SCALE: Final = "unit or scale of this channel"
WITHIN: Final = 0.12  # a ratio this near to a slip's factor is that slip
# What moving over ground makes of a channel, 5 to 95 % of the time: least and greatest width, SI. Common practice, from memory.
LIVELY: Final = {"shaft_travel": (0.004, 0.45), "roll_rate": (0.005, 3.0), "pitch_rate": (0.005, 3.0), "specific_force_z": (0.3, 80.0)}


def unbelievable(motion: SlowMotion) -> list[Finding]:
    """What lies beyond belief in a slow copy."""
    moving = np.nan_to_num(speed(motion)) > MOVING
    findings = []
    for index in sorted(motion.place):
        row, values = motion.channels.rows[index], motion.row(index)
        known = np.isfinite(values)
        if not known.any():
            continue
        outside = float(((values < row.signal.low) | (values > row.signal.high))[known].mean())
        if outside > OUTSIDE:
            findings.append(_outside(row, values[known], outside))
        elif row.signal.name in LIVELY and (known & moving).sum() > 250:  # noqa: PLR2004 - ten seconds
            findings += _width(row, values[known & moving])
    return findings + _gravity(motion)


def _outside(row: Row, values: Array, share: float) -> Finding:
    factor = unit(row.signal.said).factor
    low, high = (bound / factor for bound in (row.signal.low, row.signal.high))
    seen = np.quantile(values, [0.05, 0.95]) / factor
    text = (
        f"{row.label}: {100 * share:.0f} % of the time beyond what is believed ({low:.3g} to {high:.3g} {row.signal.said}); "
        f"it goes from {seen[0]:.3g} to {seen[1]:.3g}"
    )
    remedy = f"check unit, sign, scale and offset of column {row.column!r} in the map"
    severity = SPOILS if row.essential and share > MOSTLY else IMPAIRS
    brief = f"{row.label} beyond belief"
    return Finding(
        "range", row.label, np.nan, np.nan, 0.95, severity, text, untrusted(row.signal.name), brief, remedy, _SCALE, (row.index,)
    )


def _width(row: Row, values: Array) -> list[Finding]:
    """A channel that hardly moves, or moves too much, while the vehicle drives."""
    least, greatest = LIVELY[row.signal.name]
    low, high = np.quantile(values, [0.05, 0.95])
    width = float(high - low)
    if least <= width <= greatest or width == 0.0:
        return []
    factor = unit(row.signal.said).factor
    slip = f"; looks like {SLIPS[1e3 if width < least else 1e-3]}" if row.signal.name == "shaft_travel" else ""
    text = (
        f"{row.label}: moves by {width / factor:.3g} {row.signal.said} while driving; "
        f"expected {least / factor:.3g} to {greatest / factor:.3g}{slip}"
    )
    remedy = f"check unit and scale of column {row.column!r} in the map"
    severity = SPOILS if row.essential else IMPAIRS
    brief = f"{row.label} out of scale"
    return [
        Finding("range", row.label, np.nan, np.nan, 0.9, severity, text, untrusted(row.signal.name), brief, remedy, _SCALE, (row.index,))
    ]


def _gravity(motion: SlowMotion) -> list[Finding]:
    """The felt force must be one gravity in the middle; a slip of units shows as its factor."""
    size = felt(motion)
    known = size[np.isfinite(size)]
    if len(known) < 250:  # noqa: PLR2004 - ten seconds
        return []
    ratio = float(np.median(known)) / STANDARD_GRAVITY
    if abs(ratio - 1.0) < WITHIN:
        return []
    slip = next((words for factor, words in SLIPS.items() if abs(ratio / factor - 1.0) < WITHIN), "")
    text = f"inertial unit: the felt force is {ratio:.3g} g in the middle of the log; expected 1 g{'; looks like ' + slip if slip else ''}"
    rows = tuple(row.index for axis in "xyz" for row in motion.channels.of(f"specific_force_{axis}"))
    severity = SPOILS if abs(np.log(max(ratio, 1e-9))) > np.log(1.5) else IMPAIRS
    remedy, brief = "check unit and scale of the specific forces in the map", "inertial unit out of scale"
    effect, mend = untrusted("specific_force_z"), "unit or scale of the specific forces"
    return [Finding("range", "inertial unit", np.nan, np.nan, 0.95, severity, text, effect, brief, remedy, mend, rows)]
