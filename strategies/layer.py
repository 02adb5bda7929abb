"""One layer of the stack: what can be calibrated on it, and what it is to the compiled pass over all layers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.calibration.model import LayerPlan
from dualduty.discovery import Found
from dualduty.each_tick import STRENGTH
from dualduty.memory import coefficient_tables
from dualduty.parameters import param
from dualduty.roles import Role, role_of
from dualduty.signals import SIDES
from strategies.gates import ALWAYS, BY_STATE, LEADING, TRAILING
from strategies.stack import ACTS, JOINS, LAYER

Array = NDArray[np.float64]

_KINDS: Final = {"": ALWAYS, "outer": BY_STATE, "inner": BY_STATE, "leading": LEADING, "trailing": TRAILING}


@dataclass(frozen=True)
class LayerSettings:
    """What can be calibrated on any layer."""

    enabled: float = param(1.0, "1", 0.0, 1.0, "1 switches the layer in, 0 out")
    weight: float = param(1.0, "1", 0.0, 1.0, "how far the layer acts when fully open", said="pct", by_corner=True)
    fade_in: float = param(0.0, "s", 0.0, 5.0, "time from closed to fully open", said="ms")
    fade_out: float = param(0.0, "s", 0.0, 5.0, "time from fully open to closed", said="ms")
    follow_strength: float = param(0.0, "1", 0.0, 1.0, "how far the opening follows the strength of the state; 0 opens fully")

    def values(self, dt: float) -> Array:
        """All of it as the compiled pass takes it, (1 or case, FIELDS)."""
        with np.errstate(divide="ignore"):  # a fade of no duration follows at once
            rates = np.divide(dt, self.fade_in), np.divide(dt, self.fade_out)
        table = coefficient_tables((self.weight, self.enabled, *rates, self.follow_strength), (np.zeros((4, 1, 1)),))[0]
        return np.ascontiguousarray(np.concatenate([table[0], table[1:, 0]]).T)


def values_of_layers(settings: Sequence[Array]) -> Array:
    """Values of all layers, (1 or case, layer, FIELDS)."""
    cases = max(len(values) for values in settings)
    return np.ascontiguousarray(np.stack([np.broadcast_to(values, (cases, values.shape[1])) for values in settings], axis=1))


def layer_record(plan: LayerPlan, laws: Sequence[Found], rows: Mapping[str, tuple[int, int]]) -> Any:
    """A layer as the compiled pass takes it.

    rows : mapping of str to (int, int)
        First row on the board and number of corners, of every quantity, state, strength and demand by name.
    """
    record = np.zeros((), LAYER)
    record["act"], record["join"] = ACTS[plan.act], JOINS[plan.join]
    record["whens"], record["unlesses"], record["laws"] = len(plan.when), len(plan.unless), len(laws)
    for key, names in (("when", plan.when), ("unless", plan.unless)):
        first = sorted(names, key=lambda name: rows[name][1])  # those of the whole vehicle come first
        record[key][: len(names)] = [rows[name][0] for name in first]
        record[f"vehicle_{key}"] = sum(rows[name][1] == 1 for name in names)
        if key == "when":
            record["when_strength"][: len(names)] = [rows[name + STRENGTH][0] for name in first]
    for index, law in enumerate(laws):
        record["force"] = law.returns == "Force"  # of several laws all do, or none
        for side in SIDES:
            record[side][index] = rows.get(f"{plan.name}.{law.name}.{side}", (-1, 0))[0]
    record["asks"] = [(record[side][: len(laws)] >= 0).any() for side in SIDES]
    roles = [role_of(said) for said in plan.corners]
    record["roles"] = len(roles)
    for index, role in enumerate(roles):
        _put_role(record, index, role, rows)
    return record


def _put_role(record: Any, index: int, role: Role, rows: Mapping[str, tuple[int, int]]) -> None:
    record["role_kind"][index] = _KINDS[role.depends]
    record["role_corners"][index] = role.corners
    if role.reads:
        record["role_row"][index] = rows[role.reads][0]
