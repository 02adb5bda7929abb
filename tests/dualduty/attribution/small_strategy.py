"""A strategy of four layers small enough to work out by hand, and a run of it: the contract of `explain`, no physics."""

from __future__ import annotations

from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.controller import ControllerOutput
from dualduty.signals import CONTROLLER_LAYOUT, SIDES
from dualduty.trace import FLAG_SLEW, FLAG_TRIM, Case, Header, Trace, TraceChunk

Array = NDArray[np.float64]
DT: Final = 0.01
BASE, HOLD, LANDING, TRIM = range(4)
DOWN: Final = (1.0, 1.7)  # s: the landing
OFF: Final = (0.4, 1.0)  # s: the flight
STATES: Final = ("airborne", "landing")


@dataclass(frozen=True)
class Plan:
    """What `explain` asks of a layer's plan."""

    name: str
    laws: tuple[str, ...]
    act: str
    when: tuple[str, ...] = ()
    unless: tuple[str, ...] = ()
    corners: tuple[str, ...] = ()


PLANS: Final = (
    Plan("base", ("Curves",), "set"),
    Plan("body hold", ("Skyhook",), "raise", unless=("airborne",)),
    Plan("landing", ("Override",), "set", when=("landing",)),
    Plan("brake trim", ("Trim",), "add"),
)


class Ticks:
    """A memory that counts ticks: what a layer does may depend on all that came before."""

    def __init__(self) -> None:
        self.ticks = 0

    def snapshot(self) -> int:
        """All there is."""
        return self.ticks

    def restore(self, ticks: int) -> None:
        """Go on from there."""
        self.ticks = ticks


class SmallStrategy:
    """base 30/20 %, body hold at least the shaft travel, landing 72/62 % with a fade out, trim takes 5 % off rebound."""

    plans = PLANS
    layers = tuple(plan.name for plan in PLANS)
    states = STATES
    modes = ("patrol", "dash")
    dt = DT
    calibrations = (SimpleNamespace(suppliers=("Speed", "Touch")),)

    def __init__(self, landing: tuple[float, float] = (0.72, 0.62), cases: int = 1) -> None:
        self.landing, self.cases = landing, cases

    def start(self) -> Ticks:
        """Nothing has happened."""
        return Ticks()

    def run(self, sensed: Array, mode: NDArray[np.int16], memory: Ticks, *, record: bool = False) -> Any:
        """As `Strategy.run` has it."""
        ticks, cases = sensed.shape[1:]
        time = ((memory.ticks + np.arange(ticks)) * DT)[:, None] + np.zeros(cases)
        memory.ticks += ticks
        states = {"airborne": _between(time, OFF), "landing": _between(time, DOWN)}
        share, asked = self._demands(sensed, time, states)
        duty, after, decider = np.zeros((8, ticks, cases)), [], np.zeros((8, ticks, cases), np.int16)
        for index, plan in enumerate(PLANS):
            duty, decider = _acted(plan.act, index, (duty, asked[index], share[index]), decider)
            after.append(duty)
        output = _output(duty, decider, states, self._speed(time), share[TRIM] * asked[TRIM])
        if not record:
            return output
        return SimpleNamespace(**vars(output), record=SimpleNamespace(asked=asked, share=share, after=np.stack(after), lost=_lost(states)))

    def _demands(self, sensed: Array, time: Array, states: dict[str, Array]) -> tuple[Array, Array]:
        asked = np.full((4, 8, *time.shape), np.nan)
        share = np.ones((4, 8, *time.shape))
        asked[BASE, :4], asked[BASE, 4:] = 0.30, 0.20
        asked[HOLD, 4:] = sensed[CONTROLLER_LAYOUT.rows["shaft_travel"]]
        share[HOLD] = 1.0 - states["airborne"]
        asked[LANDING, :4], asked[LANDING, 4:] = self.landing
        share[LANDING] = np.clip(np.minimum(1.0, 1.0 - (time - DOWN[1]) / 0.2), 0.0, 1.0) * (time >= DOWN[0] - 1e-9)
        asked[TRIM, 4:] = -0.05 * (time >= 1.2 - 1e-9)
        return share, asked

    def _speed(self, time: Array) -> dict[str, Array]:
        moved = np.where(time >= 0.6, 31 / 3.6, 0.0)
        return {"vehicle_speed": 20.0 + moved[None], "speed_moved_in_air": moved[None]}


def _between(time: Array, span: tuple[float, float]) -> Array:
    return ((time >= span[0] - 1e-9) & (time < span[1] - 1e-9)).astype(float)[None]


def _acted(act: str, index: int, parts: tuple[Array, Array, Array], decider: NDArray[np.int16]) -> tuple[Array, NDArray[np.int16]]:
    below, asked, share = parts
    wanted = np.where(np.isnan(asked), below, asked)
    wanted = below + wanted if act == "add" else np.maximum(wanted, below) if act == "raise" else wanted
    above = np.where(np.isnan(asked), below, below + share * (wanted - below))
    moved = (share >= 0.5) & ~np.isnan(asked) if act == "set" else (np.abs(above - below) > 0.0025) & (act != "add")
    return above, np.where(moved, index, decider).astype(np.int16)


def _output(duty: Array, decider: NDArray[np.int16], states: dict[str, Array], speed: dict[str, Array], trim: Array) -> ControllerOutput:
    flags = np.where(np.abs(np.nan_to_num(trim)) > 0.0, FLAG_TRIM, 0).astype(np.uint8)
    given = duty.copy()
    given[0] -= 0.04  # front-left compression is always held back
    flags[0] |= FLAG_SLEW
    believed = {signal.name: np.ones((signal.corners, *duty.shape[1:])) for signal in CONTROLLER_LAYOUT.signals}
    believed["shaft_travel"][2] = 1.0 - states["landing"][0]
    return ControllerOutput(
        valid=believed, quantities=speed, states=states, strengths=states, asked=_sides(duty), duty=_sides(given), layer=_sides(decider),
        flags=_sides(flags),
    )  # fmt: skip


def _lost(states: dict[str, Array]) -> Array:
    """Rear-left travel is lost in the landing."""
    lost = np.zeros((CONTROLLER_LAYOUT.size, *states["landing"].shape[1:]))
    lost[CONTROLLER_LAYOUT.rows["shaft_travel"].start + 2] = states["landing"][0]
    return lost


def _sides(rows: NDArray[Any]) -> dict[str, NDArray[Any]]:
    return {side: rows[4 * place : 4 * place + 4] for place, side in enumerate(SIDES)}


def run_of(strategy: SmallStrategy, seconds: float = 2.5, chunk: int = 37) -> Trace:
    """A run in odd chunks, with the signals and snapshots that `explain` starts from."""
    ticks = round(seconds / DT)
    sensed = np.repeat(np.repeat(CONTROLLER_LAYOUT.per_row("rest").reshape(-1, 1, 1), ticks, axis=1), strategy.cases, axis=2)
    time = np.arange(ticks)[:, None] * DT
    sensed[CONTROLLER_LAYOUT.rows["shaft_travel"]] = 0.31 + 0.01 * np.arange(strategy.cases) + 0.05 * (time > 0.8) * np.ones((4, 1, 1))
    mode = np.ones((1, ticks, strategy.cases), np.int16)
    memory, chunks = strategy.start(), []
    for start in range(0, ticks, chunk):
        part, its_mode = sensed[:, start : start + chunk], mode[:, start : start + chunk]
        before = memory.snapshot()
        output = strategy.run(part, its_mode, memory)
        running = np.ones((1, part.shape[1], strategy.cases))
        chunks.append(
            TraceChunk(start=start, signals=CONTROLLER_LAYOUT.split(part), mode=its_mode, running=running, memory=before, **vars(output))
        )
    cases = tuple(Case("kicker", f"candidate {index + 1}", "dash") for index in range(strategy.cases))
    header = Header("simulated", DT, cases, strategy.modes, strategy.layers, strategy.states)
    return Trace.held(header, chunks)
