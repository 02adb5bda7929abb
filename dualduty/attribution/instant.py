"""A moment as people say it: seconds, or the onset of a state and some time after it, as in ``touchdown+0.2``."""

from __future__ import annotations

import re
from typing import Final

import numpy as np

from dualduty.errors import BadInput
from dualduty.trace import Trace

TOUCHDOWN: Final = "touchdown"
_FORM: Final = re.compile(r"(?P<state>[a-z_]+)(?:#(?P<count>[1-9]\d*))?(?P<offset>[+-]\d*\.?\d+)?")


def instant(said: str, trace: Trace, case: int = 0) -> float:
    """Time that `said` means in one case; BadInput says which states there are, or when the onset was missed. [s]"""
    where = f"--at {said}"
    try:
        return float(said)
    except ValueError:
        pass
    match = _FORM.fullmatch(said)
    if match is None:
        raise BadInput(where, "expected seconds, or a state with an offset in seconds, as in touchdown+0.2, airborne or landing#2-0.1")
    state = "landing" if match["state"] == TOUCHDOWN else match["state"]
    known = trace.header.states
    if state not in known:
        raise BadInput(where, f"no state {state!r} is detected here; expected {TOUCHDOWN} or one of {', '.join(known) or 'none'}")
    onsets = state_onsets(trace, case, state)
    count = int(match["count"] or 1)
    if len(onsets) < count:
        times = ", ".join(f"{time:.2f} s" for time in onsets[:8]) or "none"
        raise BadInput(where, f"expected {state} to open {count} times or more, found {len(onsets)} (at {times})")
    return onsets[count - 1] + float(match["offset"] or 0.0)


def state_onsets(trace: Trace, case: int, state: str) -> list[float]:
    """Times at which a state opens at any corner. [s]"""
    onsets: list[float] = []
    before = False
    for chunk in trace:
        active = (chunk.states[state][:, :, case] > 0.0).any(axis=0) & (chunk.running[0, :, case] > 0.0)
        rises = np.flatnonzero(active & ~np.concatenate([[before], active[:-1]]))
        onsets += [float((chunk.start + int(tick)) * trace.header.dt) for tick in rises]
        before = bool(active[-1])
    return onsets
