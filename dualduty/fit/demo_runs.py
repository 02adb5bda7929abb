"""Invented runs of vehicle 2 from a hidden truth: `python -m dualduty.fit.demo_runs FOLDER [SEED]`.

The truth is not the model of the fit: masses, springs, dampers, valves and sensors scatter about what the vehicle file
says, and friction is broader, mounts are softer and the ground has other seeds.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.files import write_text
from dualduty.shipped import shipped_calibrations
from dualduty.signals import CONTROLLER_LAYOUT
from dualduty.trace import Case
from dualduty.units import STANDARD_GRAVITY
from plant.course import Course
from plant.free_run import run_through
from plant.section import read_section
from plant.sensor_chain import SensorChain
from plant.sensor_offsets import with_offsets
from plant.sensors import Sensors
from plant.vehicle import Vehicle, read_vehicle

Array = NDArray[np.float64]

SEED: Final = 4711
GROUND_SEED: Final = 903
DT: Final = 0.002
DURATION: Final = 5.0
KINDS: Final = ("iso_road", "corrugation", "haul_track")
_SHORT: Final = ("fl", "fr", "rl", "rr")


@dataclass(frozen=True)
class Plan:
    """One run: section, duties in % (compression, rebound), whether they step, and whether it is kept for the prediction."""

    section: str
    duty: tuple[int, int]
    stepped: bool = False
    unseen: bool = False

    @property
    def name(self) -> str:
        """Of run and log."""
        return f"{self.section}_{'stepped' if self.stepped else f'{self.duty[0]}_{self.duty[1]}'}"


PLANS: Final = (
    *(Plan(kind, (duty, duty), unseen=duty == 80) for kind in KINDS for duty in (20, 50, 80)),  # noqa: PLR2004
    Plan("iso_road", (20, 80)), Plan("iso_road", (80, 20)), Plan("haul_track", (50, 50), stepped=True),
)  # fmt: skip


def hidden_truth(vehicle: Vehicle, seed: int = SEED) -> Vehicle:
    """A vehicle as it might really be, scattered as the priors of the fit say it may, and rougher than its model."""
    random = np.random.default_rng([seed, 1])
    car = vehicle.car

    def near(sigma: float, count: int = 1) -> Any:
        drawn = 1.0 + sigma * np.clip(random.standard_normal(count), -2.0, 2.0)
        return drawn if count > 1 else float(drawn[0])

    axles = np.repeat(near(0.03, 2), 2)
    return vehicle.overlay(
        sprung_mass=car.sprung_mass * near(0.01), front_arm=car.front_arm + 0.01 * (near(1.0) - 1.0),
        cg_left=vehicle.cg_left + 0.005 * (near(1.0) - 1.0), roll_inertia=car.roll_inertia * near(0.1),
        pitch_inertia=car.pitch_inertia * near(0.1), spring_rate=vehicle.spring_rate * axles, second_rate=vehicle.second_rate * axles,
        bar_rate=vehicle.bar_rate * np.repeat(near(0.1, 2), 2), friction=vehicle.friction * near(0.3), friction_speed=0.04,
        series_rate=2.2e6, compression_scale=vehicle.compression_scale * near(0.03, 4), rebound_scale=vehicle.rebound_scale * near(0.03, 4),
        valve_rise=vehicle.valve_rise * near(0.3), valve_fall=vehicle.valve_fall * near(0.3),
        valve_delay=max(vehicle.valve_delay + 1e-3 * (near(1.0) - 1.0), 0.0),
    )  # fmt: skip


def duties_of(plan: Plan, ticks: int) -> Array:
    """Commanded duties, (8, tick); steps come every 0.3 s, between 10 and 90 %, each side in its own order."""
    out = np.repeat(np.repeat(0.01 * np.array(plan.duty, float), 4)[:, None], ticks, axis=1)
    if plan.stepped:
        order = np.arange(ticks) // round(0.3 / DT)
        out[:4] = np.array([0.1, 0.9, 0.5, 0.9])[order % 4]
        out[4:] = np.array([0.9, 0.1, 0.9, 0.5])[(order + order // 4) % 4]
    return out


def drive_plans(truth: Vehicle, plans: Sequence[Plan], ground: int = GROUND_SEED, seed: int = SEED) -> list[dict[str, Array]]:
    """What the sensors give on each plan, signals (corner, time) by name [SI]."""
    courses = [course_of(plan.section, ground) for plan in plans]
    ticks = round(DURATION / DT)
    duty = np.stack([duties_of(plan, ticks) for plan in plans], axis=-1)
    seen = run_through([truth] * len(plans), courses, duty, tick=DT)
    felt = np.concatenate([seen.felt[name] for name in CONTROLLER_LAYOUT.names])
    cases = tuple(Case("car", "truth", "fixed", seed, "car") for _ in plans)  # one car: one set of sensor offsets
    sensed = CONTROLLER_LAYOUT.split(SensorChain(with_offsets(Sensors.typical(seed), truth), cases, DT).read(felt))
    return [{name: rows[:, :, index] for name, rows in sensed.items()} for index in range(len(plans))]


def course_of(section: str, seed: int) -> Course:
    """A section's course as long as a run, on ground of a seed."""
    found = read_section(shipped_calibrations() / "sections" / f"{section}.toml")
    return replace(replace(found, duration=DURATION).build(seed), duration=DURATION)


def log_text(signals: dict[str, Array]) -> str:
    """A log as the Marram's logger writes it: own names, units and signs."""
    travel = 1e3 * signals["shaft_travel"]
    travel[3] = 300.0 - travel[3]  # mounted the other way round, see the channel map
    columns: dict[str, Array] = {"time_s": np.arange(travel.shape[1], dtype=np.float64) * DT}
    columns |= {f"travel_{short}_mm": row for short, row in zip(_SHORT, travel, strict=True)}
    columns |= {f"accel_{axis}_g": signals[f"specific_force_{axis}"][0] / STANDARD_GRAVITY for axis in "xyz"}
    columns |= {f"{axis}_rate_deg_s": np.degrees(signals[f"{axis}_rate"][0]) for axis in ("roll", "pitch", "yaw")}
    digits = dict.fromkeys(columns, 3) | {f"travel_{short}_mm": 1 for short in _SHORT} | {f"accel_{axis}_g": 4 for axis in "xyz"}
    for side, short in (("compression", "comp"), ("rebound", "reb")):
        columns |= {f"duty_{short}_{corner}_pct": 100.0 * row for corner, row in zip(_SHORT, signals[f"applied_{side}"], strict=True)}
    cells = [[f"{value:.{digits.get(name, 0)}f}" for value in row] for name, row in columns.items()]
    rows = [",".join(row) + ",0" for row in zip(*cells, strict=True)]
    return "# invented demo run; car marram 2\n" + ",".join([*columns, "drive_mode"]) + "\n" + "\n".join(rows) + "\n"


def write_demo_runs(folder: Path, seed: int = SEED) -> list[Path]:
    """Logs of all plans and their manifest."""
    truth = hidden_truth(read_vehicle(shipped_calibrations() / "vehicles" / "marram_2.toml"), seed)
    lines = ["# Invented: driven by a simulation whose numbers are hidden from the fit.", 'vehicle = "marram_2"',
             'channel_map = "marram_logger.toml"']  # fmt: skip
    written = []
    for plan, signals in zip(PLANS, drive_plans(truth, PLANS, seed=seed), strict=True):
        write_text(folder / f"{plan.name}.csv", log_text(signals))
        written.append(folder / f"{plan.name}.csv")
        lines += ["", "[[run]]", f'name = "{plan.name}"', f'section = "{plan.section}"']
        constant = [f"compression_duty_pct = {plan.duty[0]}", f"rebound_duty_pct = {plan.duty[1]}"]
        lines += ["stepped = true"] if plan.stepped else constant
        lines += ["unseen = true"] if plan.unseen else []
    write_text(folder / "runs.toml", "\n".join(lines) + "\n")
    return [*written, folder / "runs.toml"]


if __name__ == "__main__":
    for path in write_demo_runs(Path(sys.argv[1]), *(int(said) for said in sys.argv[2:3])):
        sys.stdout.write(f"wrote {path}\n")
