"""Open-loop replay: a controller run over a log, chunk by chunk; states and commands move with it, the vehicle doesn't."""

from __future__ import annotations

import copy
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.errors import BadInput, SeveralBadInputs
from dualduty.pipeline import controlled
from dualduty.signals import CONTROLLER_LAYOUT, CONTROLLER_SIGNALS, SIDES
from dualduty.trace import Case, Header, RawRows, Trace, TraceChunk
from replay.at_controller_rate import Sensed, at_controller_rate
from replay.log import Log, LogPart
from replay.notice import Notice
from replay.raw_beside import RawBeside

if TYPE_CHECKING:
    from dualduty.controller import Controller

Array = NDArray[np.float64]
Progress = Callable[[float], None]
CHUNK_TICKS: Final = 8_160  # four pieces of the strategy; longer ones only cost memory
_APPLIED: Final = tuple(f"applied_{side}" for side in SIDES)


def replay(
    log: Log, controller: Controller, *, chunk_ticks: int = CHUNK_TICKS, case: Case | Sequence[Case] | None = None,
    progress: Progress | None = None, keep_signals: bool = True,
) -> Trace:  # fmt: skip
    """Run a controller over a log; the trace computes its chunks anew at each pass, so memory doesn't grow with the log.

    A controller of several cases (candidates) sees the same log in each. `case` names them; `progress` is told the
    share of the log that is done; without `keep_signals` chunks carry no sensor channels. The signals of a chunk are
    those of the controller, then what else the map names: instrumentation, `logged_<side>` and `logged_<state>`, all
    held at the controller's ticks.
    """
    remarks(log, controller)
    _check_modes_known(log, controller)
    cases = _cases(log, controller, case)
    header = Header(
        source="replayed", dt=controller.dt, cases=cases, modes=tuple(controller.modes), layers=tuple(controller.layers),
        states=tuple(controller.states), driven_by=log.channel_map.driven_by, digests=log.digests,
    )  # fmt: skip
    run = _Run(log, controller, chunk_ticks, progress, keep_signals)
    return Trace(header, run.chunks)


def needs(log: Log, controller: Controller) -> tuple[str, ...]:
    """Signals the controller reads: what it says itself (`used`), else all that the map names.

    What it can do without (`used`, but not `required`) counts only where the log has it.
    """
    used = getattr(controller, "used", None)
    named = {channel.name for channel in log.channel_map.channels}
    read = [name for name in CONTROLLER_LAYOUT.names if name not in _APPLIED and name in (named if used is None else used)]
    required = getattr(controller, "required", read)
    return tuple(name for name in read if name in required or not log.lacking(name))


def remarks(log: Log, controller: Controller) -> list[Notice]:
    """What the log doesn't have and the controller can do without; what it needs is one line of BadInput per channel."""
    needed = needs(log, controller)
    problems = [BadInput(log.name, f"the strategy needs {line}") for name in needed for line in log.lacking(name)]
    if problems:
        raise problems[0] if len(problems) == 1 else SeveralBadInputs(problems)
    others = [name for name in log.layout.names if name not in (*needed, *_APPLIED)]
    notices = [_absent(name, line) for name in others for line in log.lacking(name)]
    notices += [_absent(name, _applied_text(log, name)) for name in _APPLIED if not log.has(name)]
    return notices


def _absent(name: str, text: str) -> Notice:
    return Notice("not logged", name, 0.0, 0.0, text)


def _applied_text(log: Log, name: str) -> str:
    if log.has(_logged(name)):
        return f"{name} is not logged: the logged command, one tick late, stands for it"
    return f"{name} is not logged: its rest value ({_rest(name):g}) stands for it, also in what is estimated from it"


def _logged(applied: str) -> str:
    return applied.replace("applied_", "logged_")


def _rest(name: str) -> float:
    return next(signal.rest for signal in CONTROLLER_SIGNALS if signal.name == name)


def _check_modes_known(log: Log, controller: Controller) -> None:
    source = log.channel_map.mode
    for key, name in (("constant", source.constant), ("before_first", source.before_first)):
        if name and name not in controller.modes:
            raise BadInput(f"{log.channel_map.file}: mode.{key}", _unknown_mode(name, controller))


def _unknown_mode(name: str, controller: Controller) -> str:
    return f"drive mode {name!r} is unknown to the strategy; it has {', '.join(controller.modes)}"


def _cases(log: Log, controller: Controller, case: Case | Sequence[Case] | None) -> tuple[Case, ...]:
    if case is None:
        modes = log.modes[0] if len(log.modes) == 1 else "as driven"
        named = [Case(log.name, f"candidate {index + 1}" if controller.cases > 1 else "", modes) for index in range(controller.cases)]
    else:
        named = [case] if isinstance(case, Case) else list(case)
    if len(named) != controller.cases:
        raise ValueError(f"{len(named)} cases named for a controller of {controller.cases}")
    return tuple(named)


@dataclass(frozen=True)
class _Ticks:
    """Ticks on their way through the controller: what was sensed, in which drive mode, and the raw samples beside it."""

    sensed: Sensed
    mode: NDArray[np.int16]
    raw: dict[str, RawRows]


@dataclass(frozen=True)
class _Run:
    log: Log
    controller: Controller
    chunk_ticks: int
    progress: Progress | None
    keep_signals: bool

    def chunks(self) -> Iterator[TraceChunk]:
        for ticks, output, before in controlled(self.controller, self.controller.start(), self._given(), snapshot):
            yield self._chunk(ticks, output, before)
            if self.progress is not None:
                self.progress(ticks.sensed.done)

    def _given(self) -> Iterator[tuple[_Ticks, Array, NDArray[np.int16]]]:
        """Chunk by chunk what the controller sees, with what goes into the trace beside it."""
        log, cases = self.log, self.controller.cases
        raw = RawBeside(log) if self.keep_signals else RawBeside(log, ())
        parts = raw.listen(_in_controller_modes(log, self.controller, needs(log, self.controller)))
        held = at_controller_rate(
            parts, self.controller.dt, streams=log.streams, bridges=log.bridges, longest_hold=log.channel_map.longest_hold,
            chunk_ticks=self.chunk_ticks,
        )  # fmt: skip
        applied, modes = _Applied(log), _Modes(log, self.controller)
        for sensed in held:
            applied.put_in(sensed)
            mode = np.repeat(modes.of(sensed)[None, :, None], cases, axis=2)
            stack = sensed.values[: CONTROLLER_LAYOUT.size, :, None]
            given = np.ascontiguousarray(stack if cases == 1 else np.repeat(stack, cases, axis=2))
            yield _Ticks(sensed, mode, raw.upto(sensed.start, sensed.values.shape[1], self.controller.dt)), given, mode

    def _chunk(self, ticks: _Ticks, output: Any, before: Any) -> TraceChunk:
        values = ticks.sensed.values[:-1, :, None]
        return TraceChunk(
            start=ticks.sensed.start, signals=self.log.layout.split(values) if self.keep_signals else {}, valid=output.valid,
            quantities=output.quantities, states=output.states, strengths=output.strengths, asked=output.asked, duty=output.duty,
            layer=output.layer, flags=output.flags, mode=ticks.mode, running=np.ones(ticks.mode.shape), memory=before, raw=ticks.raw,
        )  # fmt: skip


def snapshot(memory: Any) -> Any:
    """A controller's memory as it is now: its own snapshot where it has one, a copy otherwise."""
    return memory.snapshot() if hasattr(memory, "snapshot") else copy.deepcopy(memory)


def _in_controller_modes(log: Log, controller: Controller, needed: Sequence[str]) -> Iterator[LogPart]:
    """The parts of a log; a drive mode that the controller doesn't know is BadInput with its place."""
    unknown = [index for index, name in enumerate(log.modes) if name not in controller.modes]
    for part in log.parts(needed):
        if unknown and len(part.time) and part.rows[-1] == log.mode_row:
            wrong = np.isin(part.values[-1], unknown)
            if wrong.any():
                at = int(np.argmax(wrong))
                place = log.place(part.stream, int(part.lines[at]))
                raise BadInput(place, _unknown_mode(log.modes[int(part.values[-1, at])], controller))
        yield part


class _Modes:
    """Drive modes by the controller's index; what the map says stands before the first one named, or throughout."""

    def __init__(self, log: Log, controller: Controller) -> None:
        known = tuple(controller.modes)
        source = log.channel_map.mode
        self._log = log
        self._table = np.array([known.index(name) if name in known else 0 for name in log.modes], dtype=np.int16)
        first = source.constant or source.before_first
        self._first = known.index(first) if first else None

    def of(self, sensed: Sensed) -> NDArray[np.int16]:
        """Modes of some ticks, (tick,)."""
        recorded = sensed.values[-1]
        none = np.isnan(recorded)
        if not none.any():
            return np.asarray(self._table[recorded.astype(np.int16)])
        if self._first is None:
            problem = f"no drive mode yet; name one in {self._log.channel_map.file}: mode.before_first"
            raise BadInput(self._log.name, problem)
        held = self._table[np.where(none, 0, recorded).astype(np.int16)]
        return np.where(none, np.int16(self._first), held)


class _Applied:
    """Puts logged commands, one tick late, where applied duties are not logged themselves."""

    def __init__(self, log: Log) -> None:
        rows = log.layout.rows
        pairs = [(name, _logged(name)) for name in _APPLIED if not log.has(name) and log.has(_logged(name))]
        self._rows = [(rows[applied], rows[logged]) for applied, logged in pairs]
        self._last: list[Array] = [np.full(4, np.nan) for _ in self._rows]  # NaN: rest values until a command came

    def put_in(self, sensed: Sensed) -> None:
        for index, (applied, logged) in enumerate(self._rows):
            sensed.values[applied, 0] = self._last[index]
            sensed.values[applied, 1:] = sensed.values[logged, :-1]
            self._last[index] = sensed.values[logged, -1].copy()
