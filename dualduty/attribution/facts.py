"""What the layers of a strategy are, and all that each depends on through estimators and detectors."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from dualduty.attribution.data import LayerFacts
from dualduty.discovery import PlugIns


def layer_facts(strategy: Any, plug_ins: PlugIns | None = None) -> tuple[LayerFacts, ...]:
    """Facts of every layer of a strategy, from the base upward; what they read stays empty without plug-ins."""
    reads_of_law: dict[str, Sequence[str]] = {}
    inputs_of: dict[str, Sequence[str]] = {}
    if plug_ins is not None:
        reads_of_law = {name: found.reads for name, found in plug_ins.by_name.items() if found.kind == "law"}
        suppliers = [plug_ins.by_name[name] for name in strategy.calibrations[0].suppliers]
        inputs_of = {given.name: found.reads for found in suppliers for given in found.gives}
    needs = getattr(strategy, "needs", [{}] * len(strategy.plans))
    return tuple(
        LayerFacts(
            name=plan.name, act=plan.act, laws=plan.laws, when=plan.when, unless=plan.unless, needs=its_needs, corners=plan.corners,
            reads=depends_on([name for law in plan.laws for name in reads_of_law.get(law, ())], [*plan.when, *plan.unless], inputs_of),
        )
        for plan, its_needs in zip(strategy.plans, needs, strict=True)
    )  # fmt: skip


def depends_on(read: Sequence[str], gates: Sequence[str], inputs_of: Mapping[str, Sequence[str]]) -> dict[str, str]:
    """Every name that laws depend on, with the one of `read` or `gates` through which they do; the nearest way counts."""
    found = dict.fromkeys(read, "")
    found.update({name: name for name in gates if name not in found})
    waiting = list(found)
    while waiting:
        name = waiting.pop(0)
        for deeper in inputs_of.get(name, ()):
            if deeper not in found:
                found[deeper] = found[name] or name
                waiting.append(deeper)
    return found
