"""Which estimators and detectors a stack of layers needs, and in which order they run."""

from __future__ import annotations

from dualduty.calibration.model import LayerPlan
from dualduty.discovery import Found, PlugIns
from dualduty.errors import BadInput
from dualduty.roles import role_of
from dualduty.signals import SIGNALS

REFERENCE_SPEEDS = ("reference_speed_compression", "reference_speed_rebound")  # a force is mapped to duty at these


def supply_chain(
    layers: tuple[LayerPlan, ...], also: tuple[str, ...], plug_ins: PlugIns, chosen: dict[str, str], where: str
) -> tuple[str, ...]:
    """Names of the suppliers in running order, of what layers need and what is needed `also`.

    BadInput for a missing, ambiguous or circular supply.
    """
    if not layers:
        raise BadInput(f"{where}: layers", "expected at least one layer")
    order: list[str] = []
    for name in also:
        _pull(name, (), order, plug_ins, chosen, where)
    for layer in layers:
        for name in _needs(layer, plug_ins, where):
            _pull(name, (), order, plug_ins, chosen, where)
    return tuple(order)


def _needs(layer: LayerPlan, plug_ins: PlugIns, where: str) -> list[str]:
    laws = [plug_ins.by_name[law] for law in layer.laws]
    states = [*layer.when, *layer.unless]
    for name in states:
        given = plug_ins.given.get(name)
        if given is None or not given.is_state:
            known = sorted(entry.name for entry in plug_ins.given.values() if entry.is_state)
            raise BadInput(f'{where}: layer "{layer.name}"', f"when/unless name a state; {name!r} is none of {', '.join(known)}")
    forces = list(REFERENCE_SPEEDS) if any(law.returns == "Force" for law in laws) else []
    roles = [role_of(said).reads for said in layer.corners]
    return [*states, *(read for read in roles if read), *forces, *(name for law in laws for name in law.reads)]


def _pull(name: str, below: tuple[str, ...], order: list[str], plug_ins: PlugIns, chosen: dict[str, str], where: str) -> None:
    if name in SIGNALS:
        return
    supplier = _supplier(name, plug_ins, chosen, where)
    if supplier.name in below:
        raise BadInput(where, f"estimators in a circle: {' -> '.join((*below, supplier.name))}")
    if supplier.name in order:
        return
    for read in supplier.reads:
        _pull(read, (*below, supplier.name), order, plug_ins, chosen, where)
    order.append(supplier.name)


def _supplier(name: str, plug_ins: PlugIns, chosen: dict[str, str], where: str) -> Found:
    suppliers = plug_ins.suppliers(name)
    if not suppliers:
        raise BadInput(where, f"nothing gives {name!r}")
    if len(suppliers) == 1:
        return suppliers[0]
    wanted = chosen.get(name)
    for supplier in suppliers:
        if supplier.name == wanted:
            return supplier
    names = " and ".join(supplier.name for supplier in suppliers)
    raise BadInput(f"{where}: suppliers.{name}", f"{names} both give {name!r}; expected one of them here, got {wanted!r}")
