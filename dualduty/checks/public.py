"""The public checks: what every plug-in must satisfy, ours or anyone's, each with the fault it is there to find."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.checks.rig import DT, CheckFailed, Rig, copied, mirrored, pick, same_snapshot, swept, together
from dualduty.memory import Memory
from dualduty.signals import SIGNALS

Array = NDArray[np.float64]

TICKS: Final = 160
CASES: Final = 3
ODD_CUTS: Final = (0, 1, 2, 9, 40, 41, 97, TICKS)
# smooth inputs, 2 ms against 1 ms: the shipped plug-ins measure at most 0.05; a hard-wired step gives 0.3 and more
STEP_TOLERANCE: Final = 0.12


def keeps_the_contract(rig: Rig) -> None:
    """Runs on lively inputs, opens the same memory at each call, and returns what it says, as (corner, time, case)."""
    inputs = rig.inputs(TICKS, CASES)
    rig.run(inputs, range(TICKS + 1))
    rig.run(inputs, ODD_CUTS)


def chunks_agree(rig: Rig) -> None:
    """Whole log = odd chunks = single ticks, to the bit: finds look-ahead, gradients and maxima over the chunk."""
    inputs = rig.inputs(TICKS, CASES)
    whole = rig.run(inputs, (0, TICKS))
    _same(whole, rig.run(inputs, ODD_CUTS), "odd chunks give other values than the whole log")
    _same(whole, rig.run(inputs, range(TICKS + 1)), "single ticks give other values than the whole log")


def cases_do_not_mix(rig: Rig) -> None:
    """A case alone = the same case among others, to the bit."""
    inputs = rig.inputs(TICKS, CASES)
    every = rig.run(inputs, (0, TICKS))
    for case in range(CASES):
        alone = rig.run(pick(inputs, [case]), (0, TICKS))
        among = {name: value[:, :, case : case + 1] for name, value in every.items()}
        _same(alone, among, f"case {case} alone gives other values than among others")


def swept_is_single(rig: Rig) -> None:
    """A parameter swept over cases = each value alone: finds `if`, `max()` and `math.*` on a parameter."""
    inputs = rig.inputs(TICKS, CASES)
    for index, (name, declaration) in enumerate(rig.found.parameters.items()):
        values = swept(declaration, CASES, index)
        with _told(f"{name} as an array over cases"):
            every = rig.run(inputs, (0, TICKS), rig.plug_in({name: together(values)}))
        for case, value in enumerate(values):
            alone = rig.run(pick(inputs, [case]), (0, TICKS), rig.plug_in({name: value}))
            _same(alone, {n: v[:, :, case : case + 1] for n, v in every.items()}, f"{name} swept over cases gives other values than alone")


def corners_may_differ(rig: Rig) -> None:
    """A parameter that may differ by corner, given as four equal values = the plain value."""
    inputs = rig.inputs(TICKS, CASES)
    plain = rig.run(inputs, (0, TICKS))
    for name, declaration in rig.found.parameters.items():
        if declaration.by_corner and not declaration.axes and name not in rig.car_values:
            four = np.full((4, 1, 1), float(declaration.default))
            with _told(f"{name} as an array over corners"):
                spread = rig.run(inputs, (0, TICKS), rig.plug_in({name: four}))
            whole = {n: np.broadcast_to(value, spread[n].shape) for n, value in plain.items()}
            _same(whole, spread, f"{name} as an array over corners gives other values than the same number")


def inputs_unwritten(rig: Rig) -> None:
    """Inputs are the same after the call as before."""
    inputs = rig.inputs(TICKS, CASES)
    before = copied(inputs)
    rig.run(inputs, (0, TICKS))  # chunks are copies; the whole is handed over below
    rig.call(rig.plug_in(), inputs, Memory(DT))
    for name, value in inputs.items():
        for old, new in zip(_arrays(before[name]), _arrays(value), strict=True):
            if not np.array_equal(old, new):
                raise CheckFailed(f"the input {name!r} was written to")


def resumes(rig: Rig) -> None:
    """Saved and resumed at every tick = unbroken; a saved memory stays as it was; nothing hides elsewhere."""
    inputs = rig.inputs(TICKS, CASES)
    unbroken = rig.run(inputs, range(TICKS + 1))
    parts = []
    snapshot: dict[str, Array] = {}
    for tick in range(TICKS):
        memory = Memory(DT)
        memory.restore(snapshot)
        kept = {path: state.copy() for path, state in snapshot.items()}
        parts.append(rig.run(inputs, (tick, tick + 1), rig.plug_in(), memory))
        if not same_snapshot(kept, snapshot):
            raise CheckFailed(f"a saved state was changed in place at tick {tick}")
        snapshot = memory.snapshot()
    resumed = {name: np.concatenate([part[name] for part in parts], axis=1) for name in parts[0]}
    _same(unbroken, resumed, "saved and resumed gives other values than unbroken: something is remembered outside the memory")


def step_hardly_matters(rig: Rig) -> None:
    """Half the time step changes little: finds a hard-wired step."""
    fine_ticks = 1000
    fine = rig.inputs(fine_ticks, 1, seed=7, dt=DT / 2)
    coarse = {name: _every_other(value) for name, value in fine.items()}
    for name, (a, b) in _pairs(rig.run(coarse, (0, fine_ticks // 2)), rig.run(fine, (0, fine_ticks), dt=DT / 2)).items():
        thinned = b[:, ::2]
        size = 0.5 * (np.abs(a).mean() + np.abs(thinned).mean())
        apart = np.abs(a - thinned).mean()
        if apart > STEP_TOLERANCE * size + 1e-9:
            raise CheckFailed(f"{name} changes by {apart / max(size, 1e-30):.0%} with half the time step: is the step hard-wired?")


def mirrors(rig: Rig) -> None:
    """Left and right exchanged at the input = exchanged at the output: finds a one-sided sign."""
    signs = {name: signal.mirror for name, signal in SIGNALS.items()} | {name: given.mirror for name, given in rig.given.items()}
    inputs = rig.inputs(TICKS, CASES)
    straight = rig.run(inputs, (0, TICKS))
    flipped = rig.run(mirrored(inputs, signs), (0, TICKS))
    expected = mirrored(straight, signs)
    for name, (a, b) in _pairs(flipped, expected).items():
        # sums over left and right may round in another order
        if a.shape != b.shape or not np.allclose(a, b, rtol=1e-9, atol=1e-9):
            raise CheckFailed(f"{name} does not mirror when left and right are exchanged")


def finite_and_in_range(rig: Rig) -> None:
    """Finite under wild inputs; duty and strength within 0..1, states 0 or 1, forces not negative."""
    for seed, size in ((3, 1.0), (4, 5.0), (5, 0.0)):
        inputs = _scaled(rig, rig.inputs(TICKS, CASES, seed=seed), size)
        result = rig.run(inputs, (0, TICKS))
        for name, value in result.items():
            if not np.isfinite(value).all():
                raise CheckFailed(f"{name} is not finite")
            low, high = _bounds(rig, name)
            if value.min() < low or value.max() > high:
                raise CheckFailed(f"{name} leaves {low:g}..{high:g}: {value.min():.4g}..{value.max():.4g}")
        states = [given.name for given in rig.found.gives if given.is_state]
        if any(not np.isin(result[name], (0.0, 1.0)).all() for name in states):
            raise CheckFailed("a state's `active` is neither 0 nor 1")


def asks_no_energy(rig: Rig) -> None:
    """A law asks for what a damper can give, never a push, with any setting and anything felt: force not below 0, duty in 0..1."""
    if rig.found.kind != "law" or getattr(rig.found.cls, "trims", False):
        return
    for seed in range(6):
        plug_in = rig.plug_in(rig.anywhere(CASES, seed))
        for name, value in rig.run(rig.wild(TICKS, CASES, seed), (0, TICKS), plug_in).items():
            low, high = _bounds(rig, name)
            if not (value.min() >= low and value.max() <= high):
                said = f"{value.min():.4g}..{value.max():.4g}, expected within {low:g}..{high:g}"
                raise CheckFailed(f"with some settings, {name} asks for what no damper gives: {said}")


PUBLIC: Final[dict[str, Callable[[Rig], None]]] = {
    check.__name__: check
    for check in (
        keeps_the_contract, chunks_agree, cases_do_not_mix, swept_is_single, corners_may_differ, inputs_unwritten, resumes,
        step_hardly_matters, mirrors, finite_and_in_range, asks_no_energy,
    )
}  # fmt: skip


def _bounds(rig: Rig, name: str) -> tuple[float, float]:
    sign = -1.0 if getattr(rig.found.cls, "trims", False) else 0.0
    if rig.found.returns == "Duty" or name.endswith(" strength"):
        return sign * 1.0, 1.0
    if rig.found.returns == "Force":
        return (-np.inf if sign else 0.0), np.inf
    return -np.inf, np.inf


def _scaled(rig: Rig, inputs: Mapping[str, Any], size: float) -> dict[str, Any]:
    """Signals and quantities blown up by `size` within their ranges; 0 is all zero."""
    scaled = {}
    for name, value in inputs.items():
        signal = SIGNALS.get(name)
        if signal is not None:
            scaled[name] = np.clip(value * size, signal.low, signal.high)
        elif rig.given[name].is_state:
            scaled[name] = value
        else:
            scaled[name] = value * size
    return scaled


def _every_other(value: Any) -> Any:
    return type(value)(*[array[:, ::2].copy() for array in _arrays(value)]) if not isinstance(value, np.ndarray) else value[:, ::2].copy()


def _arrays(value: Any) -> list[Array]:
    if isinstance(value, np.ndarray):
        return [value]
    return [array for array in (value.active, value.strength) if array is not None]


def _pairs(a: Mapping[str, Array], b: Mapping[str, Array]) -> dict[str, tuple[Array, Array]]:
    if a.keys() != b.keys():
        raise CheckFailed(f"outputs differ in name: {sorted(a)} and {sorted(b)}")
    return {name: (a[name], b[name]) for name in a}


def _same(a: Mapping[str, Array], b: Mapping[str, Array], message: str) -> None:
    for name, (first, second) in _pairs(a, b).items():
        if first.shape != second.shape or not np.array_equal(first, second, equal_nan=True):
            raise CheckFailed(f"{message} ({name})")


@contextmanager
def _told(what: str) -> Iterator[None]:
    """Say in which circumstances a plug-in failed."""
    try:
        yield
    except CheckFailed as failure:
        raise CheckFailed(f"{what}: {failure}") from failure
