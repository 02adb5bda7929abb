"""Only looking: the bits of the whole strategy, no more suppliers than wanted, plain words for an unknown state."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from dualduty.calibration.model import Calibration
from dualduty.calibration.read import read_calibration
from dualduty.discovery import PlugIns, discover
from dualduty.errors import BadInput
from dualduty.signals import CONTROLLER_LAYOUT
from strategies.controller import Strategy
from strategies.detections import Detections

Array = NDArray[np.float64]
DT = 0.002
STRATEGIES = Path(__file__).parents[2] / "calibrations" / "strategies"


@pytest.fixture(scope="module")
def plug_ins() -> PlugIns:
    """Everything found."""
    return discover()


@pytest.fixture(scope="module")
def demo(plug_ins: PlugIns) -> Calibration:
    """The demo's baseline."""
    return read_calibration(STRATEGIES / "marram_baseline.toml", plug_ins)


def lively(ticks: int, cases: int = 1) -> Array:
    """All channels in lively motion, with a flight, a travel that is lost for a while and brakes."""
    random = np.random.default_rng(7)
    time = (np.arange(ticks) * DT).reshape(1, -1, 1)
    sensed = np.repeat(np.repeat(CONTROLLER_LAYOUT.per_row("rest").reshape(-1, 1, 1), ticks, axis=1), cases, axis=2)
    sensed += 1e-3 * random.normal(size=sensed.shape)
    rows = CONTROLLER_LAYOUT.rows
    corner = np.arange(4).reshape(4, 1, 1)
    sensed[rows["wheel_speed"]] += 13.0
    sensed[rows["yaw_rate"]] += 0.8 * np.sin(4.0 * time)
    sensed[rows["shaft_travel"]] += 0.05 * np.sin(11.0 * time + corner)
    sensed[rows["brake"]] = np.clip(np.sin(5.0 * time), 0.0, 1.0)
    out = np.clip((np.arange(ticks) - 380) / 40.0, 0.0, 1.0) * np.clip((620 - np.arange(ticks)) / 20.0, 0.0, 1.0)  # shafts come out
    sensed[rows["shaft_travel"]] += out.reshape(1, -1, 1) * (0.01 - sensed[rows["shaft_travel"]])
    sensed[rows["specific_force_z"], 400:600] -= 9.5
    sensed[rows["specific_force_z"], 600:630] += 12.0
    sensed[rows["shaft_travel"].start, 700:760] = np.nan
    return sensed


def modes(ticks: int, cases: int) -> NDArray[np.int16]:
    """Drive modes that change once."""
    mode = np.ones((1, ticks, cases), np.int16)
    mode[0, ticks // 3 :, 0] = 0
    return mode


@pytest.mark.parametrize(("cases", "states"), [(1, ()), (3, ()), (1, ("airborne", "landing")), (2, ("cornering",))])
def test_the_bits_of_the_whole_strategy(cases: int, states: tuple[str, ...], demo: Calibration, plug_ins: PlugIns) -> None:
    sensed, mode = lively(2500, cases), modes(2500, cases)
    whole, looking = Strategy([demo], [0] * cases, plug_ins, DT), Detections([demo], [0] * cases, plug_ins, DT, states=states)
    expected, got = whole.run(sensed, mode, whole.start()), looking.run(sensed, mode, looking.start())
    assert set(looking.states) == set(got.states) == set(got.strengths)
    assert set(states) <= set(looking.states)
    for field in ("valid", "quantities", "states", "strengths"):
        for name, array in getattr(got, field).items():
            np.testing.assert_array_equal(array, getattr(expected, field)[name], err_msg=f"{field} {name}")
    assert not got.duty
    if "airborne" in got.states:
        assert 0.0 < got.states["airborne"].mean() < 1.0


def test_chunks_give_the_same_bits(demo: Calibration, plug_ins: PlugIns) -> None:
    sensed, mode = lively(1200), modes(1200, 1)
    looking = Detections([demo], [0], plug_ins, DT)
    whole = looking.published(sensed, mode, looking.start())
    memory = looking.start()
    cuts = (0, 1, 77, 500, 1200)
    parts = [looking.published(sensed[:, a:b], mode[:, a:b], memory) for a, b in pairwise(cuts)]
    np.testing.assert_array_equal(np.concatenate(parts, axis=1), whole)


def test_only_what_a_state_is_made_of(demo: Calibration, plug_ins: PlugIns) -> None:
    looking = Detections([demo], [0], plug_ins, DT, states=["braking"])
    assert "braking" in looking.states
    assert len(looking.states) < len(Strategy([demo], [0], plug_ins, DT).states)
    assert "whoops" not in looking.states
    assert looking.used == Strategy([demo], [0], plug_ins, DT).used  # the intake compares what it sees
    assert set(looking.required) < set(looking.used)


def test_an_unknown_state_is_one_line_with_a_near_one(demo: Calibration, plug_ins: PlugIns) -> None:
    with pytest.raises(BadInput, match="'airborn' is no state of this strategy; did you mean 'airborne'") as caught:
        Detections([demo], [0], plug_ins, DT, states=["airborn"])
    assert "marram_baseline.toml" in str(caught.value)
