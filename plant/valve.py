"""The valve: a duty reached with a first-order lag, whose time constants differ for rise and fall."""

from __future__ import annotations

from typing import Any

from dualduty.kernels import inline
from plant.rows import Number


@inline
def reached_half_a_step_later(case: Any, reached: float, wanted: float) -> Number:
    """Duty reached after half a plant step under a constant command; exact, as it can't cross what is wanted. [1]"""
    left = case.rise_left if wanted > reached else case.fall_left
    return wanted + (reached - wanted) * left
