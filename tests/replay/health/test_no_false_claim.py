"""What little evidence, or a witness that is itself in doubt, must not be taken for a fault of something else."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from replay.health.alignment import PAIRS, alignment, shift_findings
from replay.health.identity_findings import TOLD
from replay.health.mounting_identity import FORCES, RATES, STRAIGHT, identify_mounting
from replay.health.slow_copy import SlowMotion
from replay.health.travel_identity import identify_travels
from replay.health.witnesses import OWN, witnesses
from replay.sameness.time_offset import TimeOffset
from tests.replay.health.hand_made_parts import HandMade, altered, clock, demo_motion, row

LOGS = ("quarry_loop_dash", "quarry_loop_patrol")
AS_MAPPED = ((0, 1, 2, 3), (1.0, 1.0, 1.0, 1.0))


def without(motion: SlowMotion, *rows: int) -> SlowMotion:
    return altered(motion, dict.fromkeys(rows, np.full(motion.bins, np.nan)))


def one_wheel(motion: SlowMotion) -> SlowMotion:
    """Only the yaw gyro is left to tell of turns: no steering, the speed of one wheel."""
    return without(motion, row("steer_angle"), *(row("wheel_speed", corner) for corner in (1, 2, 3)))


def upside_down(motion: SlowMotion) -> SlowMotion:
    """Rolled by half a turn: y and z of forces and rates the other way round."""
    return altered(motion, {row(name): -motion.one(name) for name in (*FORCES[1:], *RATES[1:])})


def wrong_claims(motion: SlowMotion, axes: object, flipped: str) -> list[object]:
    """What is told and isn't so; in this log travels are as mapped, and the unit is as given."""
    seen = witnesses(motion)
    travels = identify_travels(motion, seen)
    unit = identify_mounting(motion, seen, motion.corners("shaft_travel"), travels.readings if travels else ())
    wrong: list[object] = []
    if travels is not None and travels.sure >= TOLD and (travels.corner, travels.sign) != AS_MAPPED and travels.differs:
        wrong.append((travels.corner, travels.sign, travels.sure))
    if unit is not None and unit.differs and unit.sure >= TOLD and (unit.axes, unit.flipped) != (axes, flipped):
        wrong.append((unit.axes, unit.flipped, unit.sure))
    return wrong


@pytest.mark.parametrize("log", LOGS)
def test_a_yaw_gyro_that_alone_tells_of_turns_bears_no_witness_to_itself(log: str) -> None:
    """It runs the wrong way round: neither lateral force nor left and right travels are to blame."""
    sound = one_wheel(demo_motion(log))
    assert witnesses(sound).told_by == OWN
    assert wrong_claims(sound, STRAIGHT, "") == []
    assert wrong_claims(altered(sound, {row("yaw_rate"): -sound.one("yaw_rate")}), STRAIGHT, "yaw_rate") == []


@pytest.mark.parametrize("log", LOGS)
def test_a_unit_upside_down_is_told_so_where_its_gyro_alone_tells_of_turns(log: str) -> None:
    motion = upside_down(one_wheel(demo_motion(log)))
    found = identify_mounting(motion, witnesses(motion), motion.corners("shaft_travel"))
    assert found is not None
    assert found.axes == ((1.0, 0.0, 0.0), (0.0, -1.0, 0.0), (0.0, 0.0, -1.0))
    assert wrong_claims(motion, found.axes, "") == []


@pytest.mark.parametrize("log", LOGS)
@pytest.mark.parametrize("corner", range(4))
def test_a_turned_travel_that_nobody_is_sure_of_is_not_laid_on_the_unit(log: str, corner: int) -> None:
    """Without steering and wheel speeds a travel turned round looks as if roll and pitch were exchanged."""
    sound = demo_motion(log)
    blind = without(sound, row("steer_angle"), *(row("wheel_speed", wheel) for wheel in range(4)))
    motion = altered(blind, {row("shaft_travel", corner): 0.3 - sound.corners("shaft_travel")[corner]})
    seen = witnesses(motion)
    travels = identify_travels(motion, seen)
    assert travels is not None
    found = identify_mounting(motion, seen, motion.corners("shaft_travel"), travels.readings)
    assert found is not None
    assert not found.differs or found.sure < TOLD


def test_steering_against_the_ground_is_not_turned_round() -> None:
    """A driver who holds the car on a side slope steers against a slow yaw: by 0.01 rad/s it says nothing, by 0.1 rad/s it does."""
    time = clock(60.0)
    random = np.random.default_rng(2)

    def told(size: float) -> str:
        yaw = size * np.sqrt(2.0) * np.sin(2.0 * np.pi * 0.4 * time)
        steer = -0.3 * yaw * 2.5 / 10.0
        wheels: NDArray[np.float64] = 10.0 + np.outer([-0.75, 0.75, -0.75, 0.75], yaw) + random.normal(0.0, 0.01, (4, len(time)))
        made = HandMade((time, {"yaw_rate": yaw, "steer_angle": steer, "wheel_speed": wheels}))
        return witnesses(made.slow()).contradiction

    assert told(0.01) == ""
    assert told(0.1) == "steer angle"


def test_one_speed_for_all_wheels_leaves_the_gyro_to_tell_of_turns() -> None:
    sound = demo_motion()
    same = altered(sound, {row("wheel_speed", corner): sound.corners("wheel_speed")[0] for corner in (1, 2, 3)})
    seen = witnesses(without(same, row("steer_angle")))
    assert seen.told_by == OWN
    assert seen.turn is not None


def swaying(blank: bool = False) -> HandMade:
    """A car that rolls at random; its travels are stamped a quarter of a second late, those of the rear may have no value."""
    time = clock(120.0)
    random = np.random.default_rng(4)
    smooth = np.hanning(120) / np.hanning(120).sum()
    roll = np.convolve(random.normal(0.0, 0.5, len(time)), smooth, mode="same")
    travel = 0.1 + np.outer([-0.5, 0.5, -0.5, 0.5], np.roll(roll, 50))
    travel[2:] = np.nan if blank else travel[2:]
    return HandMade((time, {"shaft_travel": travel, "roll_rate": np.gradient(roll, time), "wheel_speed": np.full((4, len(time)), 10.0)}))


@pytest.mark.parametrize("blank", [False, True])
def test_two_travels_do_not_tell_of_a_shift(blank: bool) -> None:
    """How late a sound log's travels are against its gyros was measured with all four."""
    motion = swaying(blank).slow()
    found = alignment(motion, witnesses(motion))
    assert [one.channel for one in found] == ([] if blank else ["travels"])


def test_the_latency_that_mends_a_shift_counts_from_the_one_in_the_map() -> None:
    made = swaying()
    (plain,) = alignment(made.slow(), witnesses(made.slow()))
    said = float(plain.mend.split(" = ")[1].split(",")[0])
    made.channels = replace(made.channels, rows={at: replace(one, latency=0.1) for at, one in made.channels.rows.items()})
    (found,) = alignment(made.slow(), witnesses(made.slow()))
    assert float(found.mend.split(" = ")[1].split(",")[0]) == pytest.approx(said + 100.0, abs=1.0)  # printed to a millisecond


@pytest.mark.parametrize("off", [-0.06, 0.06])
def test_the_file_of_another_vehicle_turns_no_travel_round(off: float) -> None:
    """All four lie as far from its ride height: that says nothing of any one of them, and less than a short log says otherwise."""
    motion = demo_motion()
    static = np.mean(motion.corners("shaft_travel"), axis=1) - off
    seen = witnesses(motion)
    told = identify_travels(motion, seen)
    of_another = identify_travels(motion, seen, static_travel=static)
    assert told is not None
    assert of_another is not None
    assert of_another.as_mapped == pytest.approx(told.as_mapped)
    one_off = motion.corners("shaft_travel")[2] + np.array(2.0 * off)
    alone = altered(motion, {row("shaft_travel", 2): one_off})
    lone = identify_travels(alone, seen, static_travel=static)
    assert lone is not None
    assert lone.as_mapped < told.as_mapped  # one that is off alone is a hint still


def test_stretches_that_scatter_widely_tell_of_no_shift() -> None:
    """One bend of a clean demo drive, seen by six stretches that overlap by half: 16, 12, 120 to 240 ms, as the tyres have it."""

    def told(spread: float) -> int:
        offset = TimeOffset(0.124, spread, 0.0, (-np.inf, np.inf), 20.0, 0.958, 6, 7, 0.04)
        return len(shift_findings(demo_motion(), PAIRS[0], offset))

    assert told(0.065) == 0
    assert told(0.010) == 1
