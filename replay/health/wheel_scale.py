"""Wheel speeds that differ from the others' by a factor: a wrong tyre radius, tooth count or pressure, or another unit."""

from __future__ import annotations

from typing import Final

import numpy as np

from replay.health.effects import carries
from replay.health.finding import IMPAIRS, NOTE, Finding
from replay.health.motion import middle
from replay.health.slow_copy import RATE, SlowMotion
from replay.health.witnesses import Witnesses

TOLD: Final = 0.025  # share: tyres of one size differ by 1 %, driven ones slip by 1 % more, common practice
BAD: Final = 0.08
STEADY: Final = 1.0  # m/s² of forward
FAST: Final = 4.0  # m/s
LEAST: Final = 5.0  # s


def wheel_scale(motion: SlowMotion, seen: Witnesses) -> list[Finding]:
    """Each wheel against the middle of all, where the vehicle goes straight on at a steady speed."""
    wheels = motion.corners("wheel_speed")
    all_there = np.isfinite(wheels).all(axis=0)
    if seen.forward is None or not all_there.any():
        return []
    whole = middle(wheels)
    steady = all_there & (np.nan_to_num(whole) > FAST) & seen.straight & (np.abs(seen.forward) < STEADY)
    if steady.sum() < LEAST * RATE:
        return []
    findings = []
    for row in motion.channels.of("wheel_speed"):
        others = np.median(np.delete(wheels[:, steady], row.corner, axis=0), axis=0)
        factor = float(np.median(wheels[row.corner, steady] / others))
        if abs(factor - 1.0) < TOLD:
            continue
        text = f"{row.label}: {100 * (factor - 1.0):+.1f} % against the other three, going straight on ({steady.sum() / RATE:.0f} s)"
        severity = IMPAIRS if abs(factor - 1.0) > BAD else NOTE
        sure = float(np.clip(1.0 - 0.5 * (TOLD / abs(factor - 1.0)) ** 2, 0.5, 0.99))
        mend = f"signals.wheel_speed: scale of this corner times {1.0 / factor:.4g}" if severity == IMPAIRS else ""
        findings.append(
            Finding("scale", row.label, np.nan, np.nan, sure, severity, text, carries("wheel_speed"), f"{row.label} off scale",
                    "check tyre size and pressure of this wheel", mend, (row.index,))
        )  # fmt: skip
    return findings
