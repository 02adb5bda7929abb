"""Offset of a travel channel from ride height: standing, or over quiet driving, against the static travel of the vehicle."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d

from dualduty.signals import CORNERS
from replay.health.channels import Row
from replay.health.effects import carries
from replay.health.finding import IMPAIRS, NOTE, Finding
from replay.health.motion import band, filled, speed
from replay.health.slow_copy import RATE, SlowMotion
from replay.health.witnesses import Witnesses

Array = NDArray[np.float64]
Gate = NDArray[np.bool_]
STILL: Final = 0.3  # m/s
STANDING: Final = 0.008  # m off ride height that is told standing: friction leaves 1 to 3 mm, a passenger 4
DRIVING: Final = 0.015  # m over quiet driving: dampers jack the car up or down by some millimetres
BAD: Final = 2.0  # times that, from which it impairs
QUIET_TRAVEL: Final = 0.008  # m r.m.s. of each travel over two seconds
QUIET_PULL: Final = 0.8  # m/s² forward
LEAST: Final = 2.0  # s of it, less says nothing


def ride_height(motion: SlowMotion, seen: Witnesses, static_travel: Array | None) -> list[Finding]:
    """Offsets by corner; without a vehicle only left against right of an axle.

    static_travel : (4,) array or None
        Shaft travel standing at ride height. [m]
    """
    travels = motion.corners("shaft_travel")
    standing = np.nan_to_num(speed(motion), nan=1e9) < STILL
    still, word, limit = standing, "standing", STANDING
    if standing.sum() < LEAST * RATE:
        still, word, limit = _quiet(travels, seen), "over quiet driving", DRIVING
    if still.sum() < LEAST * RATE:
        return []
    findings = []
    means = np.array([float(np.mean(row[still & np.isfinite(row)])) if (still & np.isfinite(row)).any() else np.nan for row in travels])
    for row in motion.channels.of("shaft_travel"):
        off, against = _off(means, row.corner, static_travel)
        if np.isfinite(off) and abs(off) > limit:
            findings.append(_finding(row, means[row.corner], off, (against, word, limit), float(still.sum()) / RATE))
    return findings


def _off(means: Array, corner: int, static_travel: Array | None) -> tuple[float, str]:
    if static_travel is not None:
        return float(means[corner] - static_travel[corner]), f"{1e3 * static_travel[corner]:.0f} mm of the vehicle at ride height"
    other = corner ^ 1
    return (float(means[corner] - means[other]), f"{1e3 * means[other]:.0f} mm on the other side") if corner % 2 else (np.nan, "")


def _quiet(travels: Array, seen: Witnesses) -> Gate:
    """Where the vehicle drives straight on at a steady speed over smooth ground."""
    quiet = seen.straight.copy()
    if seen.forward is not None:
        quiet &= np.abs(seen.forward) < QUIET_PULL
    for travel in travels:
        if np.isfinite(travel).any():
            quiet &= uniform_filter1d(filled(band(travel)) ** 2, round(2.0 * RATE), mode="nearest") < QUIET_TRAVEL**2
    return quiet


def _finding(row: Row, mean: float, off: float, words: tuple[str, str, float], length: float) -> Finding:
    against, word, limit = words
    sure = float(np.clip(1.0 - 0.5 * (limit / abs(off)) ** 2, 0.5, 0.97))
    text = f"{row.label}: {1e3 * mean:.0f} mm {word} ({length:.0f} s), {1e3 * off:+.0f} mm from {against}"
    effect = f"end stops come {1e3 * abs(off):.0f} mm {'late' if off < 0 else 'early'}; {carries('shaft_travel')}"
    severity = IMPAIRS if abs(off) > BAD * limit else NOTE
    remedy = "weigh and measure: load, spring preload or sensor? Only a sensor belongs into the map"
    mend = f"[signals.shaft_travel] {CORNERS[row.corner]}: {-1e3 * off:+.0f} mm on the travel, if it is the sensor"
    told = (f"{row.label} {1e3 * off:+.0f} mm off", remedy, mend, (row.index,))
    return Finding("offset", row.label, np.nan, np.nan, sure, severity, text, effect, *told)
