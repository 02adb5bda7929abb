"""What a layer depends on, through all that its laws and its gates read: which lost channels close it, and where."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.calibration.model import LayerPlan
from dualduty.calibration.supply import REFERENCE_SPEEDS
from dualduty.discovery import Found
from dualduty.roles import role_of
from dualduty.signals import CONTROLLER_LAYOUT, SIGNALS
from strategies.gates import ANY, EVERY, THIS_CORNER

_ORDER: Final = {0: 0, EVERY: 1, THIS_CORNER: 2, ANY: 3}  # the stronger need stands
Needs = dict[str, int]


def needs_of(reads: Iterable[str], givers: Mapping[str, Found], onto: Needs | None = None) -> Needs:
    """Signals that something depends on through what it reads, and which of their corners: THIS_CORNER, ANY or EVERY.

    What has no corners depends on any corner of what it reads by corner. A plug-in that `does_without` a signal of the
    whole vehicle doesn't depend on it; without one by corner, it goes on until all four are lost.
    """
    needs: Needs = {} if onto is None else dict(onto)
    for name in reads:
        _merge(needs, _of(name, givers))
    return needs


def spared(found: Found, needs: Needs, onto: Needs | None = None) -> Needs:
    """Needs of a plug-in without those that it says it `does_without`, laid over others."""
    kept = dict(needs)
    for name in getattr(found.cls, "does_without", ()):
        if name in kept and SIGNALS[name].corners > 1:
            kept[name] = EVERY
        else:
            kept.pop(name, None)
    needs = {} if onto is None else dict(onto)
    _merge(needs, kept)
    return needs


def _of(name: str, givers: Mapping[str, Found]) -> Needs:
    signal = SIGNALS.get(name)
    if signal is not None:
        return {name: THIS_CORNER if signal.corners > 1 else ANY}
    giver = givers[name]
    needs = spared(giver, needs_of(giver.reads, givers))
    if next(given for given in giver.gives if given.name == name).corners == 1:
        needs = {signal: ANY if need == THIS_CORNER else need for signal, need in needs.items()}
    return needs


def _merge(needs: Needs, more: Needs) -> None:
    for name, need in more.items():
        if _ORDER[need] > _ORDER[needs.get(name, 0)]:
            needs[name] = need


def layer_needs(plan: LayerPlan, laws: Iterable[Found], givers: Mapping[str, Found]) -> Needs:
    """Signals without which a layer closes: what its laws, its states and its roles are made of."""
    roles = [role.reads for role in map(role_of, plan.corners) if role.reads]
    needs = needs_of((*plan.when, *plan.unless, *roles), givers)
    for law in laws:
        if law.returns == "Force":
            needs = needs_of(REFERENCE_SPEEDS, givers, needs)
        needs = spared(law, needs_of(law.reads, givers), needs)
    return needs


def need_rows(needs: Needs) -> NDArray[np.int64]:
    """Needs by row of the controller's signals."""
    rows = np.zeros(CONTROLLER_LAYOUT.size, np.int64)
    for name, need in needs.items():
        rows[CONTROLLER_LAYOUT.rows[name]] = need
    return rows


def corner_of_rows() -> NDArray[np.int64]:
    """Which corner each row of the controller's signals belongs to; -1 for those of the whole vehicle."""
    corners = [list(range(4)) if signal.corners > 1 else [-1] for signal in CONTROLLER_LAYOUT.signals]
    return np.array([corner for entry in corners for corner in entry], np.int64)
