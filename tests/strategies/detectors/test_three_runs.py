"""Three runs in closed loop: a flat corner, a berm of 20 degrees at half a g, a stop on a side slope of 20 degrees.

What a bank does to sensors is what a corner does: the accelerometer reads a sideways force, the body leans. Cornering must follow its
written definition (docs/states.md) on the first two and never open on the third; roll must fall apart into bank and suspension roll.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import pytest
from numpy.typing import NDArray

from dualduty.calibration.read import read_calibration
from dualduty.discovery import discover
from dualduty.trace import Case, Trace, TraceChunk
from dualduty.truth_states import truth_intervals
from plant.closed_loop import drive
from plant.section import read_section
from plant.sensors import Sensors
from plant.vehicle import read_vehicle
from strategies.controller import Strategy
from tests.strategies.detectors.play import CALIBRATIONS, watching

Array = NDArray[np.float64]
DT: Final = 0.002
HEAD: Final = 'provenance = "invented"\nintent = "one of three runs"\nwatch = ["cornering"]\nseed = 3\ncontact_patch_mm = 150\n'
ROAD: Final = '[[ground]]\nkind = "random_road"\nstart_m = 4\nroad_class = "C"\n'
CORNER: Final = '[[drive.corner]]\nstart_m = 24\nradius_m = 25\nentry_m = 8\narc_m = 30\nexit_m = 10\nside = "left"\n'  # 0.5 g at 40 km/h
SECTIONS: Final = {
    "flat_corner": f"duration_s = 9\n{ROAD}[drive]\nstart_speed_km_h = 40\n{CORNER}",
    "berm": f'duration_s = 9\n{ROAD}[[ground]]\nkind = "berm"\nstart_m = 20\nbank_deg = 20\nbuild_up_m = 10\nhold_m = 34\nrun_out_m = 10\n'
    f"[drive]\nstart_speed_km_h = 40\n{CORNER}",
    "slope_stop": f'duration_s = 12\n{ROAD}[[ground]]\nkind = "side_slope"\nstart_m = 5\nslope_deg = 20\nlow_side = "right"\nrun_in_m = 7\n'
    "hold_m = 60\nrun_out_m = 7\n[drive]\nstart_speed_km_h = 12\n[[drive.coast]]\nstart_m = 16\nlength_m = 60\n"
    "[[drive.brake]]\nstart_m = 16\nlength_m = 60\ndemand_pct = 25\nramp_m = 1\n",
}  # fmt: skip
STRATEGY: Final = watching(("cornering_likely", "cornering", "side_slope", "standstill", "walking_pace"))


@pytest.fixture(scope="module")
def trace(tmp_path_factory: pytest.TempPathFactory) -> Trace:
    """The three runs, one case each, with usual sensors and fixed duties; the layer that asks for nothing brings the detectors."""
    folder = tmp_path_factory.mktemp("three")
    strategy = folder / "watching.toml"
    strategy.write_text(STRATEGY, encoding="utf-8")
    courses = []
    for name, text in SECTIONS.items():
        (folder / f"{name}.toml").write_text(f'name = "{name}"\n{HEAD}{text}', encoding="utf-8")
        courses.append(read_section(folder / f"{name}.toml").build())
    plug_ins = discover()
    calibration = read_calibration(strategy, plug_ins)
    cases = tuple(Case(name, calibration.name, "dash", 5) for name in SECTIONS)
    dash = np.zeros(len(cases), np.int16)
    vehicle = read_vehicle(CALIBRATIONS / "vehicles" / "marram.toml")
    controller = Strategy([calibration], [0] * len(cases), plug_ins, DT)
    return drive(courses, [vehicle] * len(cases), controller, cases, dash, sensors=Sensors.typical())


FLAT, BERM, STOP = range(3)


@pytest.fixture(scope="module")
def whole(trace: Trace) -> TraceChunk:
    """All of it."""
    return trace.whole()


def intervals(row: Array) -> list[tuple[float, float]]:
    """Seconds from the first tick in which a state was active."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0.0], row, [0.0]])))
    return [(float(first) * DT, float(last) * DT) for first, last in zip(edges[::2], edges[1::2], strict=True)]


def angles(whole: TraceChunk, case: int) -> tuple[Array, Array]:
    """True bank of the ground between the wheels and true roll of the suspension, right side down, at the controller's ticks. [deg]"""
    ground, travel = (whole.truth[name][:, ::2, case] for name in ("ground_height", "true_travel"))
    half = np.array([0.76, 0.76, 0.74, 0.74])
    lean = np.arctan(0.5 * ((ground[0] - ground[1]) / (2 * half[0]) + (ground[2] - ground[3]) / (2 * half[2])))
    sunk = (travel - np.array([103.05, 103.05, 101.02, 101.02])[:, None] / 1e3) / np.array([0.62, 0.62, 0.64, 0.64])[:, None]
    roll = 0.5 * ((sunk[1] - sunk[0]) / (2 * half[0]) + (sunk[3] - sunk[2]) / (2 * half[2]))
    return np.degrees(lean), np.degrees(roll)


@pytest.mark.parametrize("case", [FLAT, BERM])
def test_cornering_follows_its_definition_on_the_flat_and_on_a_berm(trace: Trace, whole: TraceChunk, case: int) -> None:
    ((start, end),) = truth_intervals(whole, trace.header, case)["cornering"]
    ((said, over),) = intervals(whole.states["cornering"][0, :, case])
    # onset measured 52 ms early on the flat, 22 ms late on the berm; end 284 and 332 ms late: its delay, and 0.18 g after 0.25 g
    assert -0.08 <= said - start <= 0.05
    assert 0.0 <= over - end <= 0.4


@pytest.mark.parametrize("case", [FLAT, BERM])
def test_the_steering_wheel_announces_it(whole: TraceChunk, case: int) -> None:
    ((likely, _),) = intervals(whole.states["cornering_likely"][0, :, case])
    ((sure, _),) = intervals(whole.states["cornering"][0, :, case])
    assert likely <= sure
    outer = [bool(row.any()) for row in whole.states["cornering_outer"][:, :, case]]
    assert outer == [False, True, False, True]  # a left-hand bend


def test_a_stop_on_a_side_slope_is_no_corner(trace: Trace, whole: TraceChunk) -> None:
    assert np.abs(whole.signals["specific_force_y"][0, -1000:, STOP]).min() > 0.3 * 9.81  # more than opens the state on the level
    assert not whole.states["cornering"][0, :, STOP].any()
    assert not whole.states["cornering_likely"][0, :, STOP].any()
    true = truth_intervals(whole, trace.header, STOP)
    for state, late in (("side_slope", 0.6), ("standstill", 0.35), ("walking_pace", 0.35)):
        ((start, end),) = true[state]
        ((said, over),) = intervals(whole.states[state][0, :, STOP])
        assert 0.0 <= said - start <= late, state  # measured 0.47, 0.24 and 0.15 s
        assert over == end  # the run's end
    upper = [bool(row.any()) for row in whole.states["side_slope_upper"][:, :, STOP]]
    assert upper == [True, False, True, False]  # the right side is down


@pytest.mark.parametrize("case", [FLAT, BERM])
def test_a_bank_one_turns_on_is_no_side_slope(whole: TraceChunk, case: int) -> None:
    assert not whole.states["side_slope"][0, :, case].any()


@pytest.mark.parametrize("case", [FLAT, BERM, STOP])
def test_roll_falls_apart_into_bank_and_suspension_roll(whole: TraceChunk, case: int) -> None:
    bank, roll = angles(whole, case)
    settled = slice(1000, None)
    bank_error = np.degrees(whole.quantities["ground_bank"][0, :, case])[settled] - bank[settled]
    roll_error = np.degrees(whole.quantities["suspension_roll"][0, :, case])[settled] - roll[settled]
    # r.m.s. measured: bank 1.2, 1.0 and 2.0 deg (roll on the tyres counts as bank, 1.2 deg at 0.37 g), suspension roll 0.03, 0.02, 0.06 deg
    assert np.sqrt(np.mean(bank_error**2)) < 2.5
    assert np.sqrt(np.mean(roll_error**2)) < 0.12
