"""What holds for every block: the same bits in any cut, after save and resume, alone or among cases, compiled or plain."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

import dualduty
from dualduty.blocks import (
    counter,
    delay,
    derivative,
    fade,
    hold,
    keep_while,
    leaky_integral,
    low_pass,
    machine,
    peak_hold,
    running_rms,
    scan,
    schmitt_trigger,
    slew_limit,
)  # fmt: skip
from dualduty.memory import Memory

Array = NDArray[np.float64]
Block = Callable[[tuple[Array, ...], Memory], Array]
HOUSE = Path(dualduty.__file__).parent.parent
TICKS, CASES = 90, 3


@machine
def leaky_count(x: Array, p: Array, s: Array, out: Array) -> None:
    """Grows with the first input, faster while the second is above 0; forgets by `p[0]` per second."""
    s[0] += (x[0] * (2.0 if x[1] > 0.0 else 1.0) - p[0] * s[0]) * p[1]
    out[0] = s[0]


BLOCKS: dict[str, Block] = {
    "counter": lambda x, m: counter(x[1], 0.1, m("b")),
    "delay": lambda x, m: delay(x[0], 0.05, m("b"), longest=0.08),
    "derivative": lambda x, m: derivative(x[0], 8.0, m("b")),
    "fade": lambda x, m: fade(x[1], 0.05, 0.12, m("b")),
    "hold": lambda x, m: hold(x[1], 0.04, m("b")),
    "keep_while": lambda x, m: keep_while(x[0], x[1], m("b")),
    "leaky_integral": lambda x, m: leaky_integral(x[0], 0.4, m("b")),
    "low_pass": lambda x, m: low_pass(x[0], 3.0, m("b")),
    "peak_hold": lambda x, m: peak_hold(np.abs(x[0]), 0.2, m("b")),
    "running_rms": lambda x, m: running_rms(x[0], 0.15, m("b")),
    "scan": lambda x, m: scan(leaky_count, (x[0], x[1]), (1.5,), m("b"), states=1)[0],
    "schmitt_trigger": lambda x, m: schmitt_trigger(x[0], 0.5, 0.1, m("b"), on_delay=0.02, off_delay=0.03, dwell=0.05),
    "slew_limit": lambda x, m: slew_limit(x[0], 9.0, 14.0, m("b")),
}


def _inputs(cases: int = CASES) -> tuple[Array, Array]:
    random = np.random.default_rng(11)
    wave = np.cumsum(random.normal(0.0, 0.3, (4, TICKS, cases)), axis=1)
    wave -= wave.mean(axis=1, keepdims=True)
    return wave, (wave > 0.2).astype(float)


@pytest.mark.parametrize("name", BLOCKS)
def test_whole_is_odd_chunks_is_single_ticks(name: str, run: Callable[..., Array]) -> None:
    whole = run(BLOCKS[name], _inputs())
    np.testing.assert_array_equal(run(BLOCKS[name], _inputs(), (0, 1, 3, 40, 41, TICKS)), whole)
    np.testing.assert_array_equal(run(BLOCKS[name], _inputs(), range(TICKS + 1)), whole)
    assert np.ptp(whole) > 0.0  # something happened


@pytest.mark.parametrize("name", BLOCKS)
def test_saved_and_resumed_is_unbroken(name: str, run: Callable[..., Array]) -> None:
    inputs = _inputs()
    first, second = Memory(0.01), Memory(0.01)
    head = run(BLOCKS[name], tuple(x[:, :37] for x in inputs), memory=first)
    snapshot = first.snapshot()
    kept = {path: state.copy() for path, state in snapshot.items()}
    run(BLOCKS[name], tuple(x[:, 37:] for x in inputs), memory=first)  # goes on; the snapshot must not notice
    second.restore(snapshot)
    tail = run(BLOCKS[name], tuple(x[:, 37:] for x in inputs), memory=second)
    np.testing.assert_array_equal(np.concatenate([head, tail], axis=1), run(BLOCKS[name], inputs))
    for path, state in kept.items():
        np.testing.assert_array_equal(snapshot[path], state)


@pytest.mark.parametrize("name", BLOCKS)
def test_a_case_alone_is_the_same_case_among_others(name: str, run: Callable[..., Array]) -> None:
    every = run(BLOCKS[name], _inputs())
    for case in range(CASES):
        alone = run(BLOCKS[name], tuple(np.ascontiguousarray(x[:, :, case : case + 1]) for x in _inputs()))
        np.testing.assert_array_equal(alone[:, :, 0], every[:, :, case])


@pytest.mark.parametrize("name", BLOCKS)
def test_inputs_stay_as_they_were(name: str) -> None:
    inputs = _inputs()
    for x in inputs:
        x.flags.writeable = False
    BLOCKS[name](inputs, Memory(0.01))
    np.testing.assert_array_equal(inputs[0], _inputs()[0])


def test_a_vehicle_quantity_meets_a_value_by_corner_and_by_case(run: Callable[..., Array]) -> None:
    hz = np.arange(1.0, 13.0).reshape(4, 1, 3)
    step = np.ones((1, 5, 1))
    step[:, 0] = 0.0
    every = run(lambda x, m: low_pass(x[0], hz, m("b")), (step,))
    assert every.shape == (4, 5, 3)
    for corner, case in np.ndindex(4, 3):
        single = float(hz[corner, 0, case])
        alone = run(lambda x, m, single=single: low_pass(x[0], single, m("b")), (step,))
        np.testing.assert_array_equal(every[corner, :, case], alone[0, :, 0])


def test_views_and_other_number_types_are_taken(run: Callable[..., Array]) -> None:
    wave = _inputs()[0]
    expected = run(BLOCKS["low_pass"], (wave,))
    strided = np.repeat(wave, 2, axis=2)[:, :, ::2]
    assert not strided.flags.c_contiguous
    memory = Memory(0.01)
    memory.begin()
    np.testing.assert_array_equal(low_pass(strided, 3.0, memory("b")), expected)
    gate = np.array([[[True], [False], [True]]])
    np.testing.assert_array_equal(run(lambda _, m: hold(gate, 0.0, m("b")), (np.zeros((1, 3, 1)),)), gate.astype(float))


PLAIN = """
import importlib.util, sys
import numpy as np, numba
assert bool(numba.config.DISABLE_JIT) == (sys.argv[3] == "plain")
spec = importlib.util.spec_from_file_location("blocks_under_test", sys.argv[1])
module = importlib.util.module_from_spec(spec); spec.loader.exec_module(module)
from dualduty.memory import Memory
np.savez(sys.argv[2], **{name: block(module._inputs(), Memory(0.01)) for name, block in module.BLOCKS.items()})
"""


def test_compiled_and_plain_agree(tmp_path: Path, run: Callable[..., Array]) -> None:
    file = tmp_path / "plain.npz"
    done = subprocess.run(
        [sys.executable, "-c", PLAIN, __file__, str(file), "plain"], cwd=HOUSE, capture_output=True, text=True, check=False,
        env={**os.environ, "NUMBA_DISABLE_JIT": "1"},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    with np.load(file) as plain:
        for name, block in BLOCKS.items():
            # rtol: the compiler may join a product and a sum into one rounding; measured 4e-15 over 90 ticks
            np.testing.assert_allclose(plain[name], run(block, _inputs()), rtol=1e-12, atol=1e-13, err_msg=name)
