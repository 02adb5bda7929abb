"""Run a window of a trace again from its memory snapshots, this time noting what each layer asks for."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.attribution.data import Attribution
from dualduty.attribution.facts import layer_facts
from dualduty.attribution.since import Since
from dualduty.discovery import PlugIns
from dualduty.errors import BadInput
from dualduty.signals import CONTROLLER_LAYOUT, SIDES
from dualduty.trace import Trace, TraceChunk

Array = NDArray[np.float64]
WATCHED: Final = ("vehicle_speed", "speed_moved_in_air")


def explain(trace: Trace, strategy: Any, start_s: float, end_s: float, case: int = 0, plug_ins: PlugIns | None = None) -> Attribution:
    """What each layer asked for between two times of one case.

    Parameters
    ----------
    trace : Trace
        With sensor channels and memory snapshots, as closed loop and replay leave it.
    strategy : Strategy
        The one that made the trace, with the same cases.
    start_s, end_s : float
        The window, cut to what the trace holds. [s]
    case : int
        Which case.
    plug_ins : PlugIns
        Tell what each layer depends on; without them `LayerFacts.reads` stays empty.

    Raises
    ------
    BadInput
        Where the window holds nothing, where there is nothing to start from, or where the strategy doesn't do again what it did.
    """
    dt = trace.header.dt
    fold = _Fold(strategy, case, int(np.ceil(start_s / dt - 1e-6)), int(np.floor(end_s / dt + 1e-6)) + 1)
    for chunk in trace:
        if chunk.start >= fold.end:
            break
        fold.take(chunk)
    if not fold.parts:
        raise BadInput(f"{start_s:g} to {end_s:g} s", f"lies outside {trace.header.cases[case].section}; expected a time within it")
    return fold.result(trace, plug_ins)


@dataclass
class _Fold:
    """The pieces of the window while chunks go by, and since when everything has stood as it did at its start."""

    strategy: Any
    case: int
    first: int
    end: int
    before: Since = field(default_factory=Since)
    began: dict[str, NDArray[np.int64]] = field(default_factory=dict)
    start: int = -1
    parts: list[dict[str, NDArray[Any]]] = field(default_factory=list)

    def take(self, chunk: TraceChunk) -> None:
        running = np.flatnonzero(chunk.running[0, :, self.case] > 0.0)
        last = int(running[-1]) + 1 if running.size else 0
        low, high = min(max(self.first - chunk.start, 0), last), min(self.end - chunk.start, last)
        kept = self._kept(chunk)
        for name, values in kept.items():
            if name == "decider" or name.startswith(("state ", "valid ")):
                self.before.take(name, values[:, : min(low + 1, last)] if not self.parts else values[:, :0], chunk.start)
        if high <= low:
            return
        if not self.parts:
            self.start, self.began = chunk.start + low, dict(self.before.ticks)
        part = {name: values[:, low:high] for name, values in kept.items()}
        self.parts.append(part | self._again(chunk, low, high))

    def _kept(self, chunk: TraceChunk) -> dict[str, NDArray[Any]]:
        """What the trace itself holds of the case, (row, time) by name."""
        case = self.case
        found: dict[str, NDArray[Any]] = {
            "decider": _both(chunk.layer)[:, :, case], "flags": _both(chunk.flags)[:, :, case],
            "stack": _both(chunk.asked)[:, :, case], "duty": _both(chunk.duty)[:, :, case], "mode": chunk.mode[:, :, case],
        }  # fmt: skip
        found |= {f"state {name}": values[:, :, case] for name, values in chunk.states.items()}
        found |= {f"valid {name}": values[:, :, case] for name, values in chunk.valid.items()}
        return found | {f"quantity {name}": chunk.quantities[name][:, :, case] for name in WATCHED if name in chunk.quantities}

    def _again(self, chunk: TraceChunk, low: int, high: int) -> dict[str, NDArray[Any]]:
        """The record of the ticks `low` to `high`, (layer, 8, time) by name."""
        missing = [name for name in CONTROLLER_LAYOUT.names if name not in chunk.signals]
        if missing or chunk.memory is None:
            raise BadInput("trace", f"holds no {missing[0] if missing else 'memory of the strategy'} to run again from")
        sensed = np.concatenate([chunk.signals[name][:, :high] for name in CONTROLLER_LAYOUT.names])
        memory = self.strategy.start()
        memory.restore(chunk.memory)
        output = self.strategy.run(np.ascontiguousarray(sensed), np.ascontiguousarray(chunk.mode[:, :high]), memory, record=True)
        if any(not np.array_equal(output.asked[side], chunk.asked[side][:, :high]) for side in SIDES):
            raise BadInput("trace", "the strategy, run again over it, asks for other duties; expected the one that made it")
        record = {name: getattr(output.record, name)[:, :, low:high, self.case] for name in ("asked", "share", "after")}
        lost = CONTROLLER_LAYOUT.split(output.record.lost[:, low:high, self.case])
        return record | {f"lost {name}": values for name, values in lost.items()}

    def result(self, trace: Trace, plug_ins: PlugIns | None) -> Attribution:
        header = trace.header
        joined = {name: np.concatenate([part[name] for part in self.parts], axis=-1) for name in self.parts[0]}
        groups: dict[str, dict[str, Array]] = {"state": {}, "valid": {}, "lost": {}, "quantity": {}}
        for name, values in joined.items():
            kind, _, key = name.partition(" ")
            if key:
                groups[kind][key] = values
        one = header.cases[self.case]
        return Attribution(
            label=f"{one.section} · {one.mode}", candidate=one.candidate, source=header.source, driven_by=header.driven_by,
            stamp=header.stamp, dt=header.dt, start=self.start, layers=layer_facts(self.strategy, plug_ins), modes=header.modes,
            asked=joined["asked"], share=joined["share"], after=joined["after"], stack=joined["stack"], duty=joined["duty"],
            decider=joined["decider"], flags=joined["flags"], states=groups["state"], valid=groups["valid"], lost=groups["lost"],
            quantities=groups["quantity"], mode=joined["mode"][0], began=self.began,
        )  # fmt: skip


def _both(sides: dict[str, NDArray[Any]]) -> NDArray[Any]:
    """Both sides as eight rows."""
    return np.concatenate([sides[side] for side in SIDES])
