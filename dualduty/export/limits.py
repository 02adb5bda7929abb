"""Limits that an exported candidate must keep, checked one by one and listed in the manifest."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any, Final

import numpy as np

from dualduty.calibration.model import Calibration
from dualduty.calibration.settings import Settings
from dualduty.errors import BadInput
from dualduty.signals import SIDES

SOFTEST_FALLBACK: Final = 0.1  # common practice: a fault must not leave the body undamped


@dataclass(frozen=True)
class LimitCheck:
    """One limit: what was looked at, whether it holds, and what was found."""

    limit: str
    holds: bool
    found: str

    def to_row(self) -> dict[str, Any]:
        """As a plain dict."""
        return asdict(self)


def check_limits(calibration: Calibration) -> list[LimitCheck]:
    """All limits of a calibration."""
    supervisor = calibration.settings["supervisor"]
    return [
        _within_declared(calibration),
        _breakpoints_rise(calibration),
        _command_window(supervisor),
        _fallback_in_window(supervisor),
        _fallback_not_soft(supervisor),
        _base_first(calibration),
    ]


def refuse_broken_limits(calibration: Calibration) -> list[LimitCheck]:
    """All limits, or BadInput naming the first that does not hold."""
    limits = check_limits(calibration)
    for limit in limits:
        if not limit.holds:
            raise BadInput(calibration.file, f"not exported; limit broken: {limit.limit} ({limit.found})")
    return limits


def _within_declared(calibration: Calibration) -> LimitCheck:
    values = list(calibration.values())
    outside = [f"{place}.{name}" for place, name, value in values if value.declaration.outside(value.values).any()]
    return LimitCheck("every value within its declared range", not outside, ", ".join(outside) or f"{len(values)} parameters, all within")


def _breakpoints_rise(calibration: Calibration) -> LimitCheck:
    falling = [f"{place}.{name}" for place, name, value in calibration.values() if any((np.diff(axis) <= 0).any() for axis in value.points)]
    return LimitCheck("breakpoints of every curve rise", not falling, ", ".join(falling) or "all rise")


def _command_window(supervisor: Settings) -> LimitCheck:
    windows = [(supervisor[f"lowest_{side}"].values, supervisor[f"highest_{side}"].values) for side in SIDES]
    found = ", ".join(f"{side} {low.min():.1%} to {high.max():.1%}" for side, (low, high) in zip(SIDES, windows, strict=True))
    return LimitCheck("lowest command not above the highest", all(bool((low <= high).all()) for low, high in windows), found)


def _fallback_in_window(supervisor: Settings) -> LimitCheck:
    fallback = {side: supervisor[f"fallback_{side}"].values for side in SIDES}
    inside = all(
        ((duty >= supervisor[f"lowest_{side}"].values) & (duty <= supervisor[f"highest_{side}"].values)).all()
        for side, duty in fallback.items()
    )
    softest, firmest = min(duty.min() for duty in fallback.values()), max(duty.max() for duty in fallback.values())
    return LimitCheck("fallback duties within the command window", bool(inside), f"{softest:.0%} to {firmest:.0%}")


def _fallback_not_soft(supervisor: Settings) -> LimitCheck:
    softest = min(float(supervisor[f"fallback_{side}"].values.min()) for side in ("compression", "rebound"))
    return LimitCheck(
        "fallback not softer than 10 % (common practice: a fault must not leave the body undamped)",
        softest >= SOFTEST_FALLBACK,
        f"softest {softest:.0%}",
    )


def _base_first(calibration: Calibration) -> LimitCheck:
    base = calibration.layers[0]
    holds = base.act == "set" and not base.when and not base.unless and bool((base.settings["enabled"].values == 1).all())
    return LimitCheck(
        "the lowest layer always sets a duty",
        holds,
        f'"{base.name}" acts by {base.act}, opened by {", ".join(base.when) or "nothing: always open"}',
    )
