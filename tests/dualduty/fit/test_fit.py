"""The fit finds a hidden truth within its own intervals, a wrong dyno sheet shows, and its stamp travels."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from dualduty.damper_map import DamperMap
from dualduty.errors import BadInput
from dualduty.fit.demo_runs import Plan, drive_plans, hidden_truth, log_text
from dualduty.fit.numbers import numbers_of
from dualduty.fit.predict import Change, stamp_of
from dualduty.fit.runs import NEEDED, Run, read_runs
from dualduty.fit.solve import Fit, fit
from dualduty.fit.stamp_file import write_fit
from dualduty.fit.truth import truth_values
from dualduty.shipped import shipped_calibrations
from dualduty.trace import Case
from plant.closed_loop import drive
from plant.constant_duty import ConstantDuty
from plant.equilibrium import flat_course
from plant.vehicle import Vehicle, read_vehicle

PLANS = (Plan("corrugation", (50, 50)), Plan("iso_road", (20, 20)), Plan("haul_track", (50, 50), stepped=True))


@pytest.fixture(scope="module")
def vehicle() -> Vehicle:
    return read_vehicle(shipped_calibrations() / "vehicles" / "marram_2.toml")


def runs_of(truth: Vehicle, seed: int) -> list[Run]:
    found = []
    for plan, signals in zip(PLANS, drive_plans(truth, PLANS, seed=seed), strict=True):
        duty = (0.01 * plan.duty[0], 0.01 * plan.duty[1])
        found.append(Run(plan.name, plan.section, duty, plan.stepped, plan.unseen, {name: signals[name] for name in NEEDED}))
    return found


@pytest.fixture(scope="module")
def fits(vehicle: Vehicle) -> dict[int, Fit]:
    return {seed: fit(vehicle, runs_of(hidden_truth(vehicle, seed), seed)) for seed in (1, 2)}


def test_truth_lies_within_the_stated_intervals(vehicle: Vehicle, fits: dict[int, Fit]) -> None:
    inside = []
    for seed, found in fits.items():
        for name, true in truth_values(vehicle, hidden_truth(vehicle, seed)).items():
            low, high = found.estimates[name].interval
            inside.append(low <= true <= high)
    assert np.mean(inside) >= 0.8


def test_valve_lag_comes_out_of_stepped_duties(vehicle: Vehicle, fits: dict[int, Fit]) -> None:
    for seed, found in fits.items():
        truth = hidden_truth(vehicle, seed)
        assert found.estimates["valve_rise"].value == pytest.approx(truth.valve_rise, abs=3e-3)
        assert found.estimates["valve_fall"].told < 0.5


def test_without_steps_valves_are_not_observable(vehicle: Vehicle) -> None:
    found = fit(vehicle, runs_of(vehicle, 3)[:1])
    assert found.estimates["valve_delay"].told == pytest.approx(1.0, abs=1e-6)
    assert found.estimates["sprung_mass"].told <= 1.0


def test_a_sheet_that_shows_too_much_force_comes_out_as_a_scale(vehicle: Vehicle) -> None:
    true = vehicle.own_maps["compression"][1]
    wrong = DamperMap(true.speeds, true.duties, true.forces / 0.88)
    own = vehicle.own_maps["compression"]
    sheets = {**vehicle.own_maps, "compression": (own[0], wrong, *own[2:])}
    found = fit(replace(vehicle, own_maps=sheets), runs_of(vehicle, 5))
    scales = {name: each for name, each in found.estimates.items() if name.startswith("compression_scale")}
    assert min(scales, key=lambda name: scales[name].value) == "compression_scale front_right"
    assert scales["compression_scale front_right"].interval[1] < 0.96


def test_same_runs_same_numbers(vehicle: Vehicle, fits: dict[int, Fit]) -> None:
    again = fit(vehicle, runs_of(hidden_truth(vehicle, 1), 1))
    assert {name: each.value for name, each in again.estimates.items()} == {name: each.value for name, each in fits[1].estimates.items()}


def test_stamp_travels_into_the_header(tmp_path: Path, fits: dict[int, Fit]) -> None:
    for name in ("vehicles", "dyno"):
        shutil.copytree(shipped_calibrations() / name, tmp_path / name)
    file = tmp_path / "vehicles" / "marram_2.toml"
    stamp = stamp_of("marram_2", 3, [Change("iso_road", "travel", "20/20", "80/80", -20.0, -23.4, 1.0)])
    write_fit(file, numbers_of(fits[1]), stamp)
    read = read_vehicle(file)
    assert read.car.sprung_mass == pytest.approx(fits[1].estimates["sprung_mass"].value, rel=1e-4)  # five digits are written
    trace = drive([flat_course()], [read], ConstantDuty(1), (Case("flat", "a", "fixed", 0, "car"),), np.zeros(1, np.int16))
    assert (
        trace.header.stamp
        == "fitted to 3 runs of marram_2; predicted 1 changes of unseen runs, half within 4 points, all within 4, sign right 1 of 1"
    )


def test_bad_runs_are_told_in_one_line(tmp_path: Path, vehicle: Vehicle) -> None:
    plan = Plan("corrugation", (50, 50))
    text = log_text(drive_plans(vehicle, (plan,))[0])
    head = 'vehicle = "marram_2"\nchannel_map = "marram_logger.toml"\n[[run]]\nname = "one"\nsection = "corrugation"\n'
    manifest, log = tmp_path / "runs.toml", tmp_path / "one.csv"
    log.write_text(text, encoding="utf-8")
    manifest.write_text(head + "compression_duty_pct = 50\nrebound_duty_pct = 50\n", encoding="utf-8")
    assert read_runs(tmp_path, "marram_2")[0].label == "50/50"
    with pytest.raises(BadInput, match="expected runs of 'marram_1', came 'marram_2'"):
        read_runs(tmp_path, "marram_1")
    manifest.write_text(head + "compression_duty_pct = 50\nrebound_duty_pct = 60\n", encoding="utf-8")
    with pytest.raises(BadInput, match="rebound duty is declared constant at 60 %"):
        read_runs(tmp_path, "marram_2")
    log.write_text(text.replace("travel_fl_mm", "something_else"), encoding="utf-8")
    with pytest.raises(BadInput, match="has no shaft_travel"):
        read_runs(tmp_path, "marram_2")
