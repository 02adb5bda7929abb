"""A candidate narrows a value by drive mode and by corner; everything else stays to the bit, and the difference says so."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from dualduty.calibration.bind import bind
from dualduty.calibration.difference import differences
from dualduty.calibration.model import Calibration
from dualduty.calibration.read import read_calibration
from dualduty.discovery import PlugIns
from dualduty.lookup import Curve
from strategies.laws.mode_curves import ModeCurves
from strategies.laws.roll_hold import RollHold

Read = Callable[..., Calibration]
SUPPORT = '[[layers]]\nname = "support"\n'
LAW = SUPPORT + "[layers.RollHold]\n"
CURVE = '[[layers]]\nname = "base"\n[layers.ModeCurves.compression]\n'


@pytest.fixture
def baseline(base: Path, plug_ins: PlugIns) -> Calibration:
    """The base by itself."""
    return read_calibration(base, plug_ins)


def _outer(calibration: Calibration) -> NDArray[np.float64]:
    return calibration.layers[1].law_settings["RollHold"]["outer_compression"].values


def test_values_are_spread_over_modes_and_corners_in_si(baseline: Calibration) -> None:
    np.testing.assert_allclose(_outer(baseline), [[0.4] * 4, [0.55, 0.55, 0.48, 0.48], [0.5] * 4], rtol=1e-15)
    on = baseline.settings["detectors.Cornering"]["on"].values
    np.testing.assert_allclose(on, 0.25 * 9.80665, rtol=1e-15)  # one rounding of the product


@pytest.mark.parametrize(
    ("text", "modes", "corners", "percent"),
    [
        ("outer_compression_pct.dash.front = 65", [1], [0, 1], 65),
        ("outer_compression_pct.dash = 65", [1], [0, 1, 2, 3], 65),
        ("outer_compression_pct.left = 12", [0, 1, 2], [0, 2], 12),
        ("outer_compression_pct.rear_right.haul = 7", [2], [3], 7),
        ("outer_compression_pct = 33", [0, 1, 2], [0, 1, 2, 3], 33),
        ("outer_compression = 0.33", [0, 1, 2], [0, 1, 2, 3], 33),
    ],
)
def test_only_what_is_named_changes(
    text: str, modes: list[int], corners: list[int], percent: float, read: Read, baseline: Calibration
) -> None:
    if text.startswith("outer_compression ="):
        text = text.replace("outer_compression", "outer_compression_1")
    candidate = read(LAW + text)
    expected = _outer(baseline).copy()
    expected[np.ix_(modes, corners)] = percent * 0.01
    np.testing.assert_array_equal(_outer(candidate), expected)
    before = {(place, name): value for place, name, value in baseline.values()}
    for place, name, value in candidate.values():
        if name != "outer_compression":
            assert value.same_as(before[place, name]), (place, name)


def test_the_narrower_word_wins_whatever_the_order(read: Read) -> None:
    for text in ("{ left = 30, front_left = 20 }", "{ front_left = 20, left = 30 }"):
        np.testing.assert_allclose(_outer(read(LAW + f"outer_compression_pct = {text}"))[0], [0.2, 0.4, 0.3, 0.4], rtol=1e-15)


def test_a_curve_may_change_in_one_mode_and_axle(read: Read, baseline: Calibration) -> None:
    candidate = read(CURVE + "pct.dash.rear = [19, 23, 35, 46]")
    changes = differences(baseline, candidate)
    assert [str(change) for change in changes] == [
        "layers.base.ModeCurves.compression (dash, rear, vehicle speed 0 km/h): 18 -> 19 %",
        "layers.base.ModeCurves.compression (dash, rear, vehicle speed 20 km/h): 22 -> 23 %",
        "layers.base.ModeCurves.compression (dash, rear, vehicle speed 50 km/h): 34 -> 35 %",
        "layers.base.ModeCurves.compression (dash, rear, vehicle speed 90 km/h): 45 -> 46 %",
    ]


def test_the_difference_lists_exactly_what_changed_in_said_units(read: Read, baseline: Calibration) -> None:
    candidate = read(
        "[detectors.Cornering]\non_g = 0.3\n[intake]\nfault_after_ms.dash = 80\n"
        + SUPPORT
        + "fade_in_ms = 90\n[layers.RollHold]\nouter_compression_pct.dash.front = 65\nrate_gain_s_rad.front_left = 1.5\n"
    )
    assert {str(change) for change in differences(baseline, candidate)} == {
        "detectors.Cornering.on (patrol): 0.25 -> 0.3 g",
        "detectors.Cornering.on (dash): 0.25 -> 0.3 g",
        "detectors.Cornering.on (haul): 0.25 -> 0.3 g",
        "intake.fault_after (dash): 50 -> 80 ms",
        "layers.support.fade_in (patrol): 60 -> 90 ms",
        "layers.support.fade_in (dash): 60 -> 90 ms",
        "layers.support.fade_in (haul): 60 -> 90 ms",
        "layers.support.RollHold.outer_compression (dash, front): 55 -> 65 %",
        "layers.support.RollHold.rate_gain (patrol, front-left): 0.3 -> 1.5 s/rad",
        "layers.support.RollHold.rate_gain (dash, front-left): 0.3 -> 1.5 s/rad",
        "layers.support.RollHold.rate_gain (haul, front-left): 0.3 -> 1.5 s/rad",
    }
    assert differences(baseline, baseline) == []


def test_the_difference_of_structure(read: Read, baseline: Calibration) -> None:
    candidate = read(
        SUPPORT + 'act = "set"\nwhen = ["cornering", "braking"]\n'
        '[[layers]]\nname = "preset"\nlaw = "FixedDuty"\nwhen = ["airborne"]\nafter = "base"\n'
    )
    assert [layer.name for layer in candidate.layers] == ["base", "preset", "support"]
    structure = [str(change) for change in differences(baseline, candidate) if not change.unit and not change.mode]
    assert structure[:3] == [
        "layers.support.act: raise -> set",
        "layers.support.when: cornering -> cornering, braking",
        "layers.preset.layer: absent -> added (FixedDuty, set)",
    ]


def test_moved_breakpoints_are_compared_with_the_old_curve_read_off_there(read: Read, baseline: Calibration) -> None:
    candidate = read(CURVE + "vehicle_speed_km_h = [0, 40, 90]\npct = { patrol = [10, 17, 30], dash = [18, 30, 46], haul = [14, 22, 36] }")
    told = [str(change) for change in differences(baseline, candidate)]
    assert told[0].startswith("layers.base.ModeCurves.compression: breakpoints vehicle_speed [0, 20, 50, 90] km/h -> breakpoints")
    # patrol read off at 40 km/h: 12 + 2/3 of 8 = 17.3333 %; dash 22 + 2/3 of 12 = 30: no change there
    assert "layers.base.ModeCurves.compression (patrol, all, vehicle speed 40 km/h): 17.3333 -> 17 %" in told
    assert "layers.base.ModeCurves.compression (dash, all, vehicle speed 90 km/h): 45 -> 46 %" in told
    assert not any("dash" in line and "40 km/h)" in line for line in told)


def test_the_digest_changes_if_and_only_if_a_value_or_the_structure_does(read: Read, baseline: Calibration) -> None:
    assert read('name = "other"\nnote = "says nothing about the duties"').digest == baseline.digest
    assert read(LAW + "outer_compression_pct.dash.front = 55").digest == baseline.digest
    assert read(LAW + "outer_compression_pct.dash.front = 55.001").digest != baseline.digest
    assert read(SUPPORT + 'unless = ["airborne", "landing"]').digest != baseline.digest
    assert read("[supervisor]\nrise_pct_s = 3999.9").digest != baseline.digest


def test_binding_gives_floats_where_single_and_arrays_where_not(baseline: Calibration, read: Read) -> None:
    candidate = read(LAW + "outer_compression_pct = 60")
    settings = [entry.layers[1].law_settings["RollHold"] for entry in (baseline, candidate)]
    alone = bind(RollHold, settings, [0], [0])
    assert isinstance(alone.outer_compression, float)
    by_corner = bind(RollHold, settings, [0, 0], [1, 1]).outer_compression
    np.testing.assert_array_equal(np.ravel(by_corner), np.array([55, 55, 48, 48]) * 0.01)
    by_case = bind(RollHold, settings, [0, 1, 1], [0, 0, 2]).outer_compression
    np.testing.assert_array_equal(by_case, np.reshape([40 * 0.01, 60 * 0.01, 60 * 0.01], (1, 1, 3)))


def test_candidates_that_differ_in_breakpoints_only_run_side_by_side(read: Read, baseline: Calibration) -> None:
    values = "pct = { patrol = [10, 12, 20, 30], dash = [18, 22, 34, 45], haul = [14, 16, 26, 36] }"
    candidate = read(CURVE + "vehicle_speed_km_h = [0, 30, 50, 90]\n" + values)
    settings = [entry.layers[0].law_settings["ModeCurves"] for entry in (baseline, candidate)]
    curve = bind(ModeCurves, settings, [0, 1], [0, 0]).compression
    assert isinstance(curve, Curve)
    made = curve(np.full((1, 1, 2), 25 / 3.6))
    # patrol at 25 km/h: 12 + 5/30 of 8 = 13.333 %, and 10 + 25/30 of 2 = 11.667 %
    np.testing.assert_allclose(np.ravel(made), [0.12 + 0.08 / 6, 0.10 + 0.02 * 25 / 30], rtol=1e-14)  # rounding


def test_a_switch_may_be_written_as_true_or_false(read: Read) -> None:
    off = read(SUPPORT + "enabled = { dash = false }")
    np.testing.assert_array_equal(off.layers[1].settings["enabled"].values, [[1.0] * 4, [0.0] * 4, [1.0] * 4])
