"""What a log lacks, traced to the detectors and laws that it stops."""

from __future__ import annotations

from functools import cache

import pytest

from dualduty.calibration.model import Calibration
from dualduty.calibration.read import read_calibration
from dualduty.discovery import PlugIns, discover
from dualduty.shipped import shipped_calibrations
from dualduty.signals import CONTROLLER_SIGNALS
from dualduty.trial.looked_at import look_through
from dualduty.trial.within_reach import Lack, lacks, stopped
from replay.channels.channel_map_file import read_channel_map
from strategies.controller import Strategy

EVERYTHING = {signal.name: range(signal.corners) for signal in CONTROLLER_SIGNALS}


@cache
def plug_ins() -> PlugIns:
    return discover()


@cache
def baseline() -> Calibration:
    return read_calibration(shipped_calibrations() / "strategies" / "marram_baseline.toml", plug_ins())


def without(**lost: tuple[int, ...]) -> tuple[Lack, ...]:
    there = {name: [corner for corner in corners if corner not in lost.get(name, ())] for name, corners in EVERYTHING.items()}
    return lacks(there)


def test_nothing_lacking_stops_nothing() -> None:
    assert lacks(EVERYTHING) == ()
    assert stopped((), plug_ins()) == []


@pytest.mark.parametrize("name", [signal.name for signal in CONTROLLER_SIGNALS if not signal.name.startswith("applied")])
def test_a_layer_is_stopped_by_what_the_controller_itself_says_it_needs(name: str) -> None:
    """Against the strategy's own record of needs: whole signals lost, one at a time."""
    lines = stopped(without(**{name: (0, 1, 2, 3)}), plug_ins(), baseline())
    strategy = Strategy([baseline()], [0], plug_ins(), 0.002)
    needing = {layer for layer, needs in zip(strategy.layers, strategy.needs, strict=True) if name in needs}
    assert {layer for line in lines if line.startswith("layer") for layer in line.split("'")[1::2]} == needing
    assert all(name in line for line in lines)


def test_one_corner_stops_what_works_corner_by_corner_there_alone() -> None:
    lines = stopped(without(shaft_travel=(2,)), plug_ins())
    assert "bump_approach, droop_approach: can't tell at rear_left without shaft_travel rear_left (has no column)" in lines
    assert any(line.startswith("with less to go by, for want of shaft_travel rear_left") and "airborne" in line for line in lines)


def test_a_detector_that_can_do_without_is_told_as_having_less() -> None:
    lines = stopped(without(steer_angle=(0,)), plug_ins())
    (cornering,) = [line for line in lines if "cornering_outer" in line]
    assert cornering.startswith("with less to go by, for want of steer_angle: ")


def test_without_any_travel_no_flight_and_no_stop_can_be_told() -> None:
    lines = stopped(without(shaft_travel=(0, 1, 2, 3)), plug_ins())
    (untold,) = [line for line in lines if line.endswith(": can't tell without shaft_travel (has no column)")]
    assert "airborne_likely, airborne, wheel_off; " in untold
    (idle,) = [line for line in lines if line.endswith(": can't act without shaft_travel (has no column)")]
    assert "law EndStop; law FlightPreset; " in idle


def test_without_any_force_no_flight_can_be_told() -> None:
    lines = stopped(without(specific_force_z=(0,)), plug_ins())
    assert any("airborne_likely, airborne, wheel_off; " in line and ": can't tell without specific_force_z" in line for line in lines)


def test_what_wants_the_same_stands_in_one_line() -> None:
    lines = stopped(without(specific_force_z=(0,), brake=(0,), wheel_speed=(0, 1, 2, 3)), plug_ins())
    wants = [line.split(": ", 1)[1] for line in lines]
    assert len(wants) == len(set(wants)) <= 10  # of about 40 detectors and laws


def test_a_duty_that_is_not_logged_stops_nothing() -> None:
    assert stopped(without(applied_compression=(0, 1, 2, 3)), plug_ins()) == []


def test_a_turned_unit_gives_what_all_its_parts_give(tmp_path_factory: pytest.TempPathFactory) -> None:
    folder = tmp_path_factory.mktemp("turned")
    log, path = folder / "run.csv", folder / "map.toml"
    log.write_text("t,ax,az\n" + "".join(f"{index / 100},0.1,1.0\n" for index in range(50)), encoding="utf-8")
    path.write_text(
        '[time]\ncolumn = "t"\nunit = "s"\n[mode]\nconstant = "dash"\n[signals.specific_force_x]\ncolumn = "ax"\nunit = "g"\n'
        '[signals.specific_force_z]\ncolumn = "az"\nunit = "g"\n[inertial_unit]\nforward = "-y"\nleft = "x"\nup = "z"\n',
        encoding="utf-8",
    )
    lacking = {lack.name for lack in look_through(log, read_channel_map(path)).lacking}
    assert "specific_force_x" in lacking  # it is the unit's y, which isn't there
    assert not lacking & {"specific_force_y", "specific_force_z"}
