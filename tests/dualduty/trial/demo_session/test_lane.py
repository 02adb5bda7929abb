"""Lanes joined from sections: nothing jumps where one ends and the next begins, and every leg lies where it says."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from dualduty.shipped import shipped_calibrations
from dualduty.trial.demo_session.lane import STEP, Lane, join_lane, order
from plant.section import Section, read_section

NAMES = ("kicker_jump", "drop_edge", "step_steer", "side_slope", "whoops", "double_whoops")


@pytest.fixture(scope="module")
def sections() -> dict[str, Section]:
    return {name: read_section(shipped_calibrations() / "sections" / f"{name}.toml") for name in NAMES}


@pytest.fixture(scope="module")
def lane(sections: dict[str, Section]) -> Lane:
    return join_lane("made", sections, itertools.cycle(NAMES), 100.0, np.random.default_rng(3))


def test_an_order_begins_with_its_opening_and_leaves_out_nothing_twice() -> None:
    drawn = list(itertools.islice(order(NAMES, ("whoops", "whoops"), np.random.default_rng(1)), 2 + 5 + 6))
    assert drawn[:2] == ["whoops", "whoops"]
    assert sorted(drawn[2:7]) == sorted(set(NAMES) - {"whoops"})
    assert sorted(drawn[7:]) == sorted(NAMES)


def test_repeats_are_numbered_and_follow_one_another(lane: Lane) -> None:
    names = [leg.name for leg in lane.legs]
    assert names[:7] == [*(f"{name}-1" for name in NAMES), "kicker_jump-2"]
    for one, following in itertools.pairwise(lane.legs):
        assert following.start - one.end > 15.0  # m: ground to settle on


def test_the_lane_lasts_as_long_as_asked_at_the_wanted_speed(lane: Lane) -> None:
    assert float(np.sum(STEP / lane.course.drive.speed)) > 110.0


def test_speed_and_height_do_not_jump_where_sections_meet(lane: Lane) -> None:
    speed = lane.course.drive.speed
    gain = np.diff(speed**2) / (2 * STEP)
    ground = lane.course.ground
    for leg in lane.legs:
        at = round(leg.start / STEP)
        assert np.abs(gain[at - 200 : at + 2]).max() < 1.6  # m/s²: what is driven between sections, with the grid's rounding
        assert abs(ground.left[at]) < 1e-9
        assert abs(ground.right[at]) < 1e-9
        end = min(round(leg.end / STEP), len(ground.left) - 2)
        assert np.abs(np.diff(ground.left[end - 2 : end + 2])).max() < 0.01  # m per 50 mm: no ledge of our making


def test_nothing_is_steered_between_sections(lane: Lane) -> None:
    drive = lane.course.drive
    for one, following in itertools.pairwise(lane.legs):
        between = slice(round(one.end / STEP), round(following.start / STEP))
        assert not drive.curvature[between].any()
        assert not drive.hold[between].any()
        assert not drive.coast[between].any()


def test_a_section_is_the_same_on_the_lane_as_alone(lane: Lane, sections: dict[str, Section]) -> None:
    leg = next(leg for leg in lane.legs if leg.name == "whoops-1")
    alone = sections["whoops"].build()
    here = slice(round(leg.start / STEP), round(leg.start / STEP) + len(alone.ground.left))
    assert np.array_equal(lane.course.ground.left[here], alone.ground.left)
    assert np.array_equal(lane.course.drive.speed[here], alone.drive.speed)


def test_ground_with_a_rhythm_moves_with_its_section(lane: Lane) -> None:
    leg = next(leg for leg in lane.legs if leg.name == "whoops-1")
    assert [(one.kind, round(one.start - leg.start, 9), round(one.end - leg.start, 9)) for one in leg.stretches] == [("whoops", 10.0, 54.0)]
    assert {one.kind for one in lane.stretches} == {"whoops", "double_whoops"}


def test_the_same_seed_makes_the_same_lane(sections: dict[str, Section], lane: Lane) -> None:
    again = join_lane("made", sections, itertools.cycle(NAMES), 100.0, np.random.default_rng(3))
    other = join_lane("made", sections, itertools.cycle(NAMES), 100.0, np.random.default_rng(4))
    assert np.array_equal(again.course.ground.left, lane.course.ground.left)
    assert not np.array_equal(other.course.ground.left[: len(lane.course.ground.left)], lane.course.ground.left)
