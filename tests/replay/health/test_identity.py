"""Which travel and which axis is which, on a demo log whose channels are exchanged and turned round."""

from __future__ import annotations

import re
from itertools import combinations

import numpy as np
import pytest
from numpy.typing import NDArray

from dualduty.shipped import shipped_calibrations
from dualduty.signals import CORNER_LABELS
from replay.channels.channel_map_file import read_channel_map
from replay.health.identity_findings import SURE, mounting_findings, travel_findings
from replay.health.mounting_identity import FORCES, RATES, ROTATIONS, STRAIGHT, Matrix, MountingIdentity, identify_mounting
from replay.health.put_right import mounting_moves, moved, travel_moves
from replay.health.slow_copy import SlowMotion
from replay.health.travel_identity import TravelIdentity, identify_travels
from replay.health.travel_zero import zeros_of_turned
from replay.health.witnesses import witnesses
from tests.replay.health.hand_made_parts import altered, demo_motion, row

LOGS = ("quarry_loop_dash", "quarry_loop_patrol")
MAP = read_channel_map(shipped_calibrations() / "channel_maps" / "marram_logger.toml")


def travels_of(motion: SlowMotion) -> TravelIdentity:
    found = identify_travels(motion, witnesses(motion))
    assert found is not None
    return found


def unit_of(motion: SlowMotion) -> MountingIdentity:
    found = identify_mounting(motion, witnesses(motion), motion.corners("shaft_travel"))
    assert found is not None
    return found


def turned(motion: SlowMotion, axes: Matrix) -> SlowMotion:
    """As the log of a unit would be whose x, y, z are such that `axes` brings them back to forward, left, up."""
    back = np.array(axes).T
    changes: dict[int, NDArray[np.float64]] = {}
    for names in (FORCES, RATES):
        vehicle = np.array([motion.one(name) for name in names])
        changes.update(zip([row(name) for name in names], back @ vehicle, strict=True))
    return altered(motion, changes)


@pytest.mark.parametrize("log", LOGS)
def test_a_sound_log_is_as_mapped(log: str) -> None:
    motion = demo_motion(log)
    travels, unit = travels_of(motion), unit_of(motion)
    assert not travels.differs
    assert not unit.differs
    assert travels.as_mapped > SURE
    assert unit.as_mapped > SURE
    assert travel_findings(travels, motion.channels, np.full(4, np.nan), MAP) == []
    assert mounting_findings(unit, motion.channels, None) == []


@pytest.mark.parametrize("log", LOGS)
@pytest.mark.parametrize("corner", range(4))
def test_an_inverted_travel_is_found_and_nothing_else(log: str, corner: int) -> None:
    sound = demo_motion(log)
    motion = altered(sound, {row("shaft_travel", corner): 0.3 - sound.corners("shaft_travel")[corner]})
    found = travels_of(motion)
    assert found.corner == (0, 1, 2, 3)
    assert [sign < 0.0 for sign in found.sign] == [at == corner for at in range(4)]
    assert found.sure > SURE
    (told,) = travel_findings(found, motion.channels, zeros_of_turned(motion, found, None), MAP)
    assert told.channel == f"{CORNER_LABELS[corner]} travel"
    assert told.kind == "inverted travel"
    assert told.text == f"{CORNER_LABELS[corner]} travel runs the wrong way round"
    assert re.search("next best|any other reading", told.reasons)


def test_the_line_that_mends_an_inverted_travel_mends_it() -> None:
    sound = demo_motion()
    motion = altered(sound, {row("shaft_travel", 2): 0.3 - sound.corners("shaft_travel")[2]})
    found = travels_of(motion)
    zeros = zeros_of_turned(motion, found, None)
    righted = moved(motion, travel_moves(found, motion.channels, zeros))
    off = righted.corners("shaft_travel")[2] - sound.corners("shaft_travel")[2]
    assert np.abs(off).max() < 0.003  # where it hangs in one flight of 0.45 s: 0.9 mm off
    (told,) = travel_findings(found, motion.channels, zeros, MAP)
    key, line = told.mend.split(" = ", 1)
    assert key == "[signals.shaft_travel] rear_left"
    assert line.startswith('{ column = "travel_rl_mm", sign = -1, offset = ')
    assert float(line.split("offset = ")[1].split(" ")[0]) == pytest.approx(-300.0, abs=3.0)


def test_one_that_was_turned_in_the_map_already_is_turned_back() -> None:
    sound = demo_motion()
    motion = altered(sound, {row("shaft_travel", 3): 0.3 - sound.corners("shaft_travel")[3]})
    found = travels_of(motion)
    (told,) = travel_findings(found, motion.channels, zeros_of_turned(motion, found, None), MAP)
    assert 'rear_right = { column = "travel_rr_mm", sign = 1, offset = ' in told.mend


@pytest.mark.parametrize("pair", list(combinations(range(4), 2)))
def test_exchanged_travels_are_never_told_wrongly(pair: tuple[int, int]) -> None:
    """Half a minute is little: what is told must be right, and the map less sure than on the sound log."""
    sound = demo_motion()
    travels = sound.corners("shaft_travel")
    first, second = pair
    motion = altered(sound, {row("shaft_travel", first): travels[second], row("shaft_travel", second): travels[first]})
    found = travels_of(motion)
    right = list(range(4))
    right[first], right[second] = second, first
    assert found.sign == (1.0,) * 4
    assert found.corner in {(0, 1, 2, 3), tuple(right)}
    assert found.as_mapped < travels_of(sound).as_mapped
    if found.sure > SURE and found.differs:
        told = travel_findings(found, motion.channels, np.full(4, np.nan), MAP)
        assert {each.kind for each in told} == {"swapped travel"}
        assert len(told) == 2


@pytest.mark.parametrize("axes", ROTATIONS)
def test_every_quarter_turn_of_the_unit_is_found_and_put_right(axes: Matrix) -> None:
    motion = turned(demo_motion(), axes)
    found = unit_of(motion)
    assert found.axes == axes
    assert not found.flipped
    assert found.sure > SURE
    righted = moved(motion, mounting_moves(found, motion.channels))
    np.testing.assert_allclose(righted.copy, demo_motion().copy, atol=1e-5)


def test_the_line_that_mends_a_turned_unit() -> None:
    about_up: Matrix = ((0.0, -1.0, 0.0), (1.0, 0.0, 0.0), (0.0, 0.0, 1.0))
    motion = turned(demo_motion(), about_up)
    (told,) = mounting_findings(unit_of(motion), motion.channels, None)
    assert told.mend == '[inertial_unit] forward = "-y", left = "x", up = "z"'
    assert told.brief == "inertial unit turned 90 degrees about z"
    assert "gravity lies along z" in told.reasons


@pytest.mark.parametrize("name", ["yaw_rate", "specific_force_y"])
def test_one_axis_turned_round_is_found(name: str) -> None:
    motion = demo_motion()
    found = unit_of(altered(motion, {row(name): -motion.one(name)}))
    assert (found.axes, found.flipped) == (STRAIGHT, name)
    assert found.sure > SURE


def test_both_slips_at_once_are_found() -> None:
    about_up: Matrix = ((0.0, -1.0, 0.0), (1.0, 0.0, 0.0), (0.0, 0.0, 1.0))
    sound = demo_motion()
    motion = turned(altered(sound, {row("shaft_travel", 2): 0.3 - sound.corners("shaft_travel")[2]}), about_up)
    travels = travels_of(motion)
    assert travels.sign == (1.0, 1.0, -1.0, 1.0)
    righted = moved(motion, travel_moves(travels, motion.channels, zeros_of_turned(motion, travels, None)))
    assert unit_of(righted).axes == about_up


def test_a_log_without_travels_or_without_a_unit_says_nothing() -> None:
    motion = demo_motion()
    nothing = np.full(motion.bins, np.nan)
    bare = altered(motion, {row("shaft_travel", corner): nothing for corner in range(4)})
    assert identify_travels(bare, witnesses(bare)) is None
    still = altered(motion, {row(name): nothing for name in (*FORCES, *RATES)})
    assert identify_mounting(still, witnesses(still), still.corners("shaft_travel")) is None
