"""Public checks: put any plug-in through `check_plug_in`; the suite does so with every plug-in found."""

from __future__ import annotations

from dualduty.car import Car
from dualduty.checks.public import PUBLIC
from dualduty.checks.rig import CheckFailed, Rig
from dualduty.discovery import Found, PlugIns

__all__ = ["PUBLIC", "CheckFailed", "check_plug_in", "rig_for"]


def rig_for(found: Found, plug_ins: PlugIns, car: Car | None) -> Rig:
    """Inputs and runner for one plug-in, with the car's numbers where it wants them; without a car, its defaults."""
    values = {}
    for name, declaration in found.parameters.items():
        if declaration.from_car and car is not None:
            value = getattr(car, declaration.from_car)
            values[name] = value if isinstance(value, float) else value.reshape(-1, 1, 1)
    return Rig(found, plug_ins.given, values)


def check_plug_in(found: Found, plug_ins: PlugIns, car: Car | None) -> None:
    """Put one plug-in through every public check; CheckFailed says which and why."""
    rig = rig_for(found, plug_ins, car)
    for name, check in PUBLIC.items():
        try:
            check(rig)
        except CheckFailed as failure:
            raise CheckFailed(f"{found.source}: {found.name}: {name}: {failure}") from None
