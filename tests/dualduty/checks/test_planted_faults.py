"""The proof of the public checks: each planted fault is found by the check named beside it, its healthy twin passes all."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, ClassVar

import numpy as np
import pytest

from dualduty.blocks import low_pass
from dualduty.checks import PUBLIC, CheckFailed, check_plug_in, rig_for
from dualduty.checks.rig import Rig
from dualduty.contract import Array, Chunk, Duty, Memory, State, quantity, state
from dualduty.discovery import examine
from dualduty.errors import BadInput
from dualduty.parameters import param

G = 9.80665  # m/s²; only scales the made-up laws


def _duty(array: Array) -> Duty:
    """Both sides alike, within 0..1."""
    wanted = np.clip(array, 0.0, 1.0)
    return Duty(wanted, wanted)


@dataclass(frozen=True)
class _Healthy:
    """The twin: a smoothed share of the felt force, plus a floor that may differ by corner."""

    corner_hz: float = param(5.0, "Hz", 0.5, 50.0, "corner frequency of the smoothing")
    gain: float = param(0.03, "1", 0.0, 0.2, "duty per specific force")
    floor: float = param(0.1, "1", 0.0, 1.0, "lowest duty", said="pct", by_corner=True)

    def run(self, now: Chunk, memory: Memory) -> Duty:
        felt = low_pass(np.abs(now.specific_force_z - G), self.corner_hz, memory("felt"))
        return _duty(np.maximum(self.gain * felt, self.floor))


@dataclass(frozen=True)
class _HealthyState:
    """The twin of the detectors."""

    on: float = param(12.0, "m/s²", 10.0, 40.0, "felt force above which it reports", said="g")

    gives = (state("pressed", "the body is pressed down"), quantity("press", "m/s²", "how hard", corners=1))

    def run(self, now: Chunk, memory: Memory) -> dict[str, Any]:
        press = low_pass(now.specific_force_z, 8.0, memory("press"))
        return {"pressed": State((press > self.on).astype(float), np.clip(press / 100.0, 0.0, 1.0)), "press": press}


@dataclass(frozen=True)
class _LookAhead(_Healthy):
    def run(self, now: Chunk, memory: Memory) -> Duty:
        x = now.specific_force_z
        return _duty(self.gain * np.abs(np.concatenate([x[:, 1:], x[:, -1:]], axis=1)))


@dataclass(frozen=True)
class _Gradient(_Healthy):
    def run(self, now: Chunk, memory: Memory) -> Duty:
        padded = np.concatenate([now.specific_force_z] * 2, axis=1)  # np.gradient wants two ticks
        return _duty(np.abs(np.gradient(padded, axis=1)[:, : now.specific_force_z.shape[1]]))


@dataclass(frozen=True)
class _ChunkMaximum(_Healthy):
    def run(self, now: Chunk, memory: Memory) -> Duty:
        return _duty(self.gain * np.maximum.accumulate(np.abs(now.specific_force_z - G), axis=1))


@dataclass(frozen=True)
class _ChunkLength(_Healthy):
    def run(self, now: Chunk, memory: Memory) -> Duty:
        return _duty(self.gain * np.abs(now.specific_force_z) + (0.01 if now.specific_force_z.shape[1] > 20 else 0.0))


@dataclass(frozen=True)
class _CaseMixing(_Healthy):
    def run(self, now: Chunk, memory: Memory) -> Duty:
        x = now.specific_force_z
        return _duty(self.gain * np.abs(x - x.mean(axis=2, keepdims=True)))


@dataclass(frozen=True)
class _FirstCaseForAll(_Healthy):
    def run(self, now: Chunk, memory: Memory) -> Duty:
        felt = np.broadcast_to(np.abs(now.specific_force_z[:, :, :1]), now.specific_force_z.shape)
        return _duty(self.gain * felt)


@dataclass(frozen=True)
class _HiddenOnClass(_Healthy):
    last: ClassVar[dict[int, Array]] = {}

    def run(self, now: Chunk, memory: Memory) -> Duty:
        x = np.abs(now.specific_force_z)
        before = self.last.get(x.shape[2], np.zeros_like(x[:, :1]))
        shifted = np.concatenate([before, x[:, :-1]], axis=1)
        self.last[x.shape[2]] = x[:, -1:].copy()
        return _duty(self.gain * shifted)


_MODULE_MEMORY: dict[int, Array] = {}


@dataclass(frozen=True)
class _HiddenOnModule(_Healthy):
    def run(self, now: Chunk, memory: Memory) -> Duty:
        x = np.abs(now.specific_force_z)
        sum_so_far = _MODULE_MEMORY.get(x.shape[2], 0.0) + np.cumsum(x, axis=1)
        _MODULE_MEMORY[x.shape[2]] = sum_so_far[:, -1:].copy()
        return _duty(1e-4 * sum_so_far)


@dataclass(frozen=True)
class _HiddenOnInstance(_Healthy):
    def run(self, now: Chunk, memory: Memory) -> Duty:
        x = np.abs(now.specific_force_z)
        before = self.__dict__.get("last", np.zeros_like(x[:, :1]))
        object.__setattr__(self, "last", x[:, -1:].copy())
        return _duty(self.gain * np.concatenate([before, x[:, :-1]], axis=1))


@dataclass(frozen=True)
class _StateInPlace(_Healthy):
    def run(self, now: Chunk, memory: Memory) -> Duty:
        node = memory("last")
        x = np.abs(now.specific_force_z)
        if node.state is None:
            node.state = np.zeros((1, 1, x.shape[2]))
        shifted = np.concatenate([node.state, x[:, :-1]], axis=1)
        node.state[:] = x[:, -1:]
        return _duty(self.gain * shifted)


@dataclass(frozen=True)
class _InputOverwritten(_Healthy):
    def run(self, now: Chunk, memory: Memory) -> Duty:
        felt = now.specific_force_z
        np.abs(felt - G, out=felt)
        return _duty(self.gain * felt)


@dataclass(frozen=True)
class _InputReplaced(_Healthy):
    def run(self, now: Chunk, memory: Memory) -> Duty:
        now.specific_force_z = np.abs(now.specific_force_z)
        return _duty(self.gain * now.specific_force_z)


@dataclass(frozen=True)
class _HardWiredStep(_Healthy):
    def run(self, now: Chunk, memory: Memory) -> Duty:
        node = memory("felt")
        x = np.abs(now.specific_force_z - G)
        level = np.zeros_like(x[:, 0]) if node.state is None else node.state[0]
        out = np.empty_like(x)
        for tick in range(x.shape[1]):
            level = level + 0.02 * (x[:, tick] - level)  # 0.02 is right for one step only
            out[:, tick] = level
        node.state = level[None]
        return _duty(self.gain * out)


@dataclass(frozen=True)
class _IfOnParameter(_Healthy):
    def run(self, now: Chunk, memory: Memory) -> Duty:
        gain = self.gain if self.gain > 0.01 else 0.0
        return _duty(gain * np.abs(now.specific_force_z))


@dataclass(frozen=True)
class _MathOnParameter(_Healthy):
    def run(self, now: Chunk, memory: Memory) -> Duty:
        return _duty(math.sqrt(self.gain) * np.abs(now.specific_force_z) * 0.1)


@dataclass(frozen=True)
class _MaxOnParameter(_Healthy):
    def run(self, now: Chunk, memory: Memory) -> Duty:
        return _duty(max(self.gain, 0.01) * np.abs(now.specific_force_z))


@dataclass(frozen=True)
class _FirstValueForAll(_Healthy):
    def run(self, now: Chunk, memory: Memory) -> Duty:
        return _duty(np.asarray(self.gain).flat[0] * np.abs(now.specific_force_z))


@dataclass(frozen=True)
class _OneNumberForAllCorners(_Healthy):
    def run(self, now: Chunk, memory: Memory) -> Duty:
        return _duty(np.zeros_like(now.specific_force_z) + np.full_like(now.specific_force_z, self.floor))


@dataclass(frozen=True)
class _OneSidedSign(_Healthy):
    def run(self, now: Chunk, memory: Memory) -> Duty:
        pressed = np.concatenate([now.roll_rate, now.roll_rate, now.roll_rate, now.roll_rate])
        return _duty(self.gain * np.maximum(pressed, 0.0))


@dataclass(frozen=True)
class _LeftOnly(_Healthy):
    def run(self, now: Chunk, memory: Memory) -> Duty:
        felt = self.gain * np.abs(now.specific_force_z)
        return _duty(np.concatenate([felt, 0.5 * felt, felt, 0.5 * felt]))


@dataclass(frozen=True)
class _DutyAboveOne(_Healthy):
    def run(self, now: Chunk, memory: Memory) -> Duty:
        felt = np.abs(now.specific_force_z) * self.gain
        return Duty(felt * 1.2, felt)


@dataclass(frozen=True)
class _NotFinite(_Healthy):
    def run(self, now: Chunk, memory: Memory) -> Duty:
        with np.errstate(divide="ignore", invalid="ignore"):
            share = now.brake / np.abs(now.specific_force_x)
        return _duty(share * self.gain)


@dataclass(frozen=True)
class _SkippedBlock(_Healthy):
    def run(self, now: Chunk, memory: Memory) -> Duty:
        felt = np.abs(now.specific_force_z - G)
        if felt.max() > 2.0:
            felt = low_pass(felt, self.corner_hz, memory("felt"))
        return _duty(self.gain * felt)


@dataclass(frozen=True)
class _NameTwice(_Healthy):
    def run(self, now: Chunk, memory: Memory) -> Duty:
        felt = low_pass(np.abs(now.specific_force_z), self.corner_hz, memory("felt"))
        lively = felt.max() > 11.0  # at rest, where the dry run looks, the second opening doesn't come
        if lively:
            felt = low_pass(felt, self.corner_hz, memory("felt"))
        return _duty(self.gain * felt)


@dataclass(frozen=True)
class _CasesBeforeTime(_Healthy):
    def run(self, now: Chunk, memory: Memory) -> Duty:
        return _duty(self.gain * np.abs(now.specific_force_z).transpose(0, 2, 1))


@dataclass(frozen=True)
class _CornerDropped(_Healthy):
    def run(self, now: Chunk, memory: Memory) -> Duty:
        felt = self.gain * np.abs(now.specific_force_z)
        wide = felt.max() > 0.5  # not at rest
        return _duty(np.concatenate([felt] * (3 if wide else 4)))


@dataclass(frozen=True)
class _SinglePrecision(_Healthy):
    def run(self, now: Chunk, memory: Memory) -> Duty:
        felt = np.abs(now.specific_force_z) * self.gain
        return _duty(felt.astype(np.float32) if felt.max() > 0.5 else felt)


@dataclass(frozen=True)
class _SideNowAndThen(_Healthy):
    def run(self, now: Chunk, memory: Memory) -> Duty:
        wanted = np.clip(self.gain * np.abs(now.specific_force_z), 0.0, 1.0)
        return Duty(wanted, wanted if now.specific_force_z.max() > 12.0 else None)


@dataclass(frozen=True)
class _RaisesWhenLively(_Healthy):
    def run(self, now: Chunk, memory: Memory) -> Duty:
        if now.specific_force_z.max() > 12.0:
            raise KeyError("table")
        return _duty(self.gain * np.abs(now.specific_force_z))


@dataclass(frozen=True)
class _StrengthAsState(_HealthyState):
    def run(self, now: Chunk, memory: Memory) -> dict[str, Any]:
        press = low_pass(now.specific_force_z, 8.0, memory("press"))
        share = np.clip(press / (4 * self.on), 0.0, 1.0)
        return {"pressed": State(share, share), "press": press}


@dataclass(frozen=True)
class _StrengthAboveOne(_HealthyState):
    def run(self, now: Chunk, memory: Memory) -> dict[str, Any]:
        press = low_pass(now.specific_force_z, 8.0, memory("press"))
        return {"pressed": State((press > self.on).astype(float), np.abs(press / self.on)), "press": press}


@dataclass(frozen=True)
class _BareArrayAsState(_HealthyState):
    def run(self, now: Chunk, memory: Memory) -> dict[str, Any]:
        press = low_pass(now.specific_force_z, 8.0, memory("press"))
        active = (press > self.on).astype(float)
        return {"pressed": active if press.max() > 12.0 else State(active), "press": press}


@dataclass(frozen=True)
class _PushesWhenTuned(_Healthy):
    """As declared it takes nothing out; set higher, it asks for less than soft, which is a push."""

    relief: float = param(0.0, "1", 0.0, 0.5, "duty taken out")

    def run(self, now: Chunk, memory: Memory) -> Duty:
        felt = low_pass(np.abs(now.specific_force_z - G), self.corner_hz, memory("felt"))
        wanted = np.minimum(np.maximum(self.gain * felt, self.floor), 1.0) - self.relief
        return Duty(wanted, wanted)


FAULTS: list[tuple[type, str]] = [
    (_LookAhead, "chunks_agree"),
    (_Gradient, "chunks_agree"),
    (_ChunkMaximum, "chunks_agree"),
    (_ChunkLength, "chunks_agree"),
    (_CaseMixing, "cases_do_not_mix"),
    (_FirstCaseForAll, "cases_do_not_mix"),
    (_HiddenOnClass, "chunks_agree"),
    (_HiddenOnModule, "chunks_agree"),
    (_HiddenOnInstance, "resumes"),
    (_StateInPlace, "resumes"),
    (_InputOverwritten, "inputs_unwritten"),
    (_HardWiredStep, "step_hardly_matters"),
    (_IfOnParameter, "swept_is_single"),
    (_MathOnParameter, "swept_is_single"),
    (_MaxOnParameter, "swept_is_single"),
    (_FirstValueForAll, "swept_is_single"),
    (_OneNumberForAllCorners, "corners_may_differ"),
    (_OneSidedSign, "mirrors"),
    (_LeftOnly, "mirrors"),
    (_DutyAboveOne, "finite_and_in_range"),
    (_NotFinite, "finite_and_in_range"),
    (_SkippedBlock, "keeps_the_contract"),
    (_NameTwice, "keeps_the_contract"),
    (_CasesBeforeTime, "keeps_the_contract"),
    (_CornerDropped, "keeps_the_contract"),
    (_SinglePrecision, "keeps_the_contract"),
    (_SideNowAndThen, "keeps_the_contract"),
    (_RaisesWhenLively, "keeps_the_contract"),
    (_StrengthAsState, "finite_and_in_range"),
    (_StrengthAboveOne, "finite_and_in_range"),
    (_BareArrayAsState, "keeps_the_contract"),
    (_PushesWhenTuned, "asks_no_energy"),
]


def _rig(cls: type) -> Rig:
    plug_ins = examine([cls])
    return rig_for(plug_ins.by_name[cls.__name__], plug_ins, car=None)


def _verdict(check: Callable[[Rig], None], rig: Rig) -> str:
    try:
        check(rig)
    except CheckFailed as failure:
        return str(failure)
    return ""


@pytest.mark.parametrize(("fault", "expected"), FAULTS, ids=[fault.__name__[1:] for fault, _ in FAULTS])
def test_a_planted_fault_is_found_by_the_check_named(fault: type, expected: str) -> None:
    said = _verdict(PUBLIC[expected], _rig(fault))
    assert said, f"{expected} does not see {fault.__name__}"
    assert "\n" not in said


@pytest.mark.parametrize("check", PUBLIC)
@pytest.mark.parametrize("twin", [_Healthy, _HealthyState])
def test_the_healthy_twin_passes(twin: type, check: str) -> None:
    PUBLIC[check](_rig(twin))


def test_every_check_finds_a_fault_that_no_check_before_it_finds() -> None:
    """A check that kills nothing of its own only costs time."""
    alone = set()
    for fault, expected in FAULTS:
        rig = _rig(fault)
        first = next(name for name, check in PUBLIC.items() if _verdict(check, rig))
        alone |= {first} & {expected}
    assert alone == set(PUBLIC)


def test_an_input_that_is_replaced_is_refused_at_once() -> None:
    with pytest.raises(BadInput, match="'specific_force_z' can't be set here"):
        _rig(_InputReplaced)


def test_all_checks_together_name_the_check_and_the_file() -> None:
    plug_ins = examine([_DutyAboveOne])
    with pytest.raises(CheckFailed, match=r"test_planted_faults.py: _DutyAboveOne: finite_and_in_range: compression leaves 0..1"):
        check_plug_in(plug_ins.by_name["_DutyAboveOne"], plug_ins, None)
