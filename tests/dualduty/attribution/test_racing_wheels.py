"""A landing with a spike: who commanded the rear-left corner, and what the speed held in the air changes in closed loop."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from dualduty.calibration.read import read_calibration
from dualduty.discovery import discover
from dualduty.shipped import shipped_calibrations
from dualduty.trace import Case, TraceChunk
from dualduty.trial.cars import read_cars
from dualduty.units import STANDARD_GRAVITY
from plant.closed_loop import drive
from plant.section import read_section
from plant.sensors import Sensors
from strategies.controller import Strategy
from tests.docs.documents import dualduty

DT = 0.002
HOUSE = shipped_calibrations()
SECTION = HOUSE / "sections" / "beside" / "kicker_on_throttle.toml"
FREE, HELD = 0, 1


@pytest.fixture(scope="module")
def driven() -> TraceChunk:
    """The jump with the throttle held, in dash: speed following the wheels, and held in the air."""
    plug_ins = discover()
    calibrations = [read_calibration(HOUSE / "strategies" / f"{name}_speed.toml", plug_ins) for name in ("free", "held")]
    section = read_section(SECTION)
    vehicle = read_cars(calibrations[0].vehicle_file).vehicles(1)[0]
    strategy = Strategy(calibrations, [FREE, HELD], plug_ins, DT)
    cases = tuple(Case(section.name, calibration.name, "dash") for calibration in calibrations)
    mode = np.full(2, calibrations[0].modes.index("dash"), np.int16)
    return drive([section.build()] * 2, [vehicle] * 2, strategy, cases, mode, sensors=Sensors.typical()).whole()


def touchdown(driven: TraceChunk) -> int:
    """First tick of the landing, the same in both."""
    first = np.argmax(driven.states["landing"][0] > 0.0, axis=0)
    assert first[FREE] == first[HELD] > 0
    return int(first[FREE])


def test_the_wheels_race_and_the_free_speed_follows_them(driven: TraceChunk) -> None:
    at = touchdown(driven)
    true = driven.truth["speed"][0, 2 * at]
    assert driven.signals["wheel_speed"][:, at, FREE].min() > 1.5 * true[FREE]
    told = driven.quantities["vehicle_speed"][0, at]
    assert told[FREE] > true[FREE] + 6.0  # measured 10 m/s
    assert told[HELD] < told[FREE] - 4.0  # measured 3.8 m/s above the truth: the wheels spin on the ramp already
    assert driven.quantities["speed_moved_in_air"][0, at, FREE] > 5.0


def test_rebound_is_let_go_too_early_and_the_spike_is_higher(driven: TraceChunk) -> None:
    at = touchdown(driven)
    fifth = at + round(0.2 / DT)
    assert driven.duty["rebound"][0, fifth, FREE] < 0.5 < driven.duty["rebound"][0, fifth, HELD]
    after = slice(2 * at + 100, 2 * at + 400)  # 0.1 to 0.4 s after touchdown
    spike = driven.truth["seat_acceleration_z"][0, after].max(axis=0) / STANDARD_GRAVITY
    # measured 2.30 and 2.15 g; nothing else of the two runs differs
    assert spike[FREE] > 1.02 * spike[HELD]


def test_a_sentence_says_who_and_why(tmp_path: Path) -> None:
    arguments = ["why", "free_speed", "--section", str(SECTION), "--mode", "dash", "--at", "touchdown+0.2", "--corner", "rear-left",
                 "--side", "rebound", "--against", "held_speed", "--folder", str(HOUSE), "--out", str(tmp_path / "told")]  # fmt: skip
    code, said = dualduty(arguments)
    assert code == 0, said
    assert "rear-left rebound" in said
    assert "landing since 0.20 s" in said
    assert "in the air (wheels off, not held); landing reads it" in said
    assert (tmp_path / "told" / "rear_left.png").stat().st_size > 20_000
    json.loads((tmp_path / "told" / "moment.json").read_text(encoding="utf-8"))
