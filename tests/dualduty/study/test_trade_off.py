"""The trade-off: the calibration replayed over its own drives gives its own states, and thresholds move what they should."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from dualduty.calibration.model import Calibration
from dualduty.calibration.read import read_calibration
from dualduty.discovery import PlugIns, discover
from dualduty.errors import BadInput
from dualduty.shipped import shipped_calibrations
from dualduty.study import trade_off as subject
from dualduty.study.detection_events import Events
from dualduty.study.drives import Drive, Lane, Lanes, driven
from dualduty.study.jump_ladder import LIP_HEIGHTS, SPEEDS, jump_ladder
from dualduty.study.truth import LEAST_HOP
from plant.section import read_section
from plant.sensors import Sensors
from plant.vehicle import read_vehicle

SHIPPED = shipped_calibrations()


@pytest.fixture(scope="module")
def plug_ins() -> PlugIns:
    """All of ours."""
    return discover()


@pytest.fixture(scope="module")
def calibration(plug_ins: PlugIns) -> Calibration:
    """The baseline."""
    return read_calibration(SHIPPED / "strategies" / "marram_baseline.toml", plug_ins)


@pytest.fixture(scope="module")
def drives(calibration: Calibration, plug_ins: PlugIns) -> list[Drive]:
    """A jump and a short road, of different lengths."""
    jump, road = (read_section(SHIPPED / "sections" / f"{name}.toml") for name in ("kicker_jump", "iso_road"))
    lanes = (Lane.of(replace(jump, duration=2.6)), Lane.of(replace(road, duration=1.0)))
    vehicle = read_vehicle(SHIPPED / "vehicles" / "marram_2.toml")
    return list(driven(Lanes(lanes, 1, vehicle, Sensors.typical()), calibration, ("dash",), plug_ins, lambda _: None))


def test_drives_know_their_truth(drives: list[Drive]) -> None:
    road, jump = drives
    assert (road.case.section, jump.case.section) == ("iso_road", "kicker_jump")
    flown = {drive.case.section: next(line for line in drive.lines if line.state == "airborne").sure for drive in drives}
    assert flown["iso_road"] == ()
    assert len(flown["kicker_jump"]) == 1
    assert flown["kicker_jump"][0].size > LEAST_HOP
    landing = next(line for line in jump.lines if line.state == "landing").sure[0]
    assert landing.start == flown["kicker_jump"][0].end
    assert landing.size == pytest.approx(flown["kicker_jump"][0].size)


def test_replayed_over_its_own_drives_a_calibration_gives_its_own_states(
    drives: list[Drive], calibration: Calibration, plug_ins: PlugIns
) -> None:
    found = subject.trade_off(drives, calibration, plug_ins, lambda _: None)
    own = Events()
    for drive in drives:
        own.add(drive)
    for state, point in found.baseline.items():
        (outcome,) = (one for one in own.outcomes if one.state == state)
        assert point.median == outcome.onset
        assert point.false_per_minute == own.tallies[state].false_per_minute
        assert drives[1].states[state].any()


def test_a_longer_delay_opens_later(drives: list[Drive], calibration: Calibration, plug_ins: PlugIns) -> None:
    found = subject.trade_off(drives[1:], calibration, plug_ins, lambda _: None)
    family, points = next(entry for entry in found.families if entry[0].title == "pre-arm")
    for value in family.line[1]:
        onsets = [point.median for point in points if point.values[family.line[0]] == value]
        assert len(onsets) == len(family.along[1])
        assert np.all(np.diff(onsets) >= 0)  # the confirmation opens the pre-arm too, at the latest
        assert onsets[0] < onsets[-1]


def test_a_strategy_without_the_flight_detector_is_told_so(drives: list[Drive], calibration: Calibration, plug_ins: PlugIns) -> None:
    without = replace(calibration, settings={key: value for key, value in calibration.settings.items() if key != subject.PLACE})
    with pytest.raises(BadInput, match=r"has no detectors\.Airborne"):
        subject.trade_off(drives, without, plug_ins, lambda _: None)


def test_the_ladder_flies_from_nothing_to_a_long_flight() -> None:
    ladder = jump_ladder(SHIPPED / "sections" / "kicker_jump.toml")
    assert len({lane.course.name for lane in ladder}) == len(LIP_HEIGHTS) * len(SPEEDS)
    assert max(float(lane.course.ground.left.max()) for lane in ladder) > 2 * min(float(lane.course.ground.left.max()) for lane in ladder)


def test_the_ladder_needs_a_kicker() -> None:
    with pytest.raises(BadInput, match="exactly one kicker"):
        jump_ladder(SHIPPED / "sections" / "iso_road.toml")
