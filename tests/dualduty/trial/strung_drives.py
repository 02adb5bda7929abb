"""Short simulated drives strung to one long log as the invented logger writes it; invented, as all of the demo vehicle.

Between two drives the vehicle jumps to where the next begins: the log has one clock without gaps, its channels have steps there.
"""

from __future__ import annotations

import functools
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from dualduty.calibration.read import read_calibration
from dualduty.discovery import discover
from dualduty.shipped import shipped_calibrations
from dualduty.trace import Case
from dualduty.trial.clock import DT
from dualduty.units import STANDARD_GRAVITY
from plant.closed_loop import drive
from plant.section import read_section
from plant.sensor_offsets import with_offsets
from plant.sensors import TYPICAL, Sensors
from plant.vehicle import read_vehicle
from strategies.controller import Strategy

Array = NDArray[np.float64]
SHORT = ("fl", "fr", "rl", "rr")
STEP = 2.5  # ticks a sample: 200 Hz
SLOW = 4  # bus channels come at a quarter of that


@dataclass(frozen=True)
class Stretch:
    """One drive within the strung log. [s]"""

    name: str
    start: float
    end: float


@dataclass(frozen=True)
class Strung:
    """Columns in the logger's own units, and where each drive lies."""

    frame: pd.DataFrame
    stretches: tuple[Stretch, ...]


@functools.cache
def driven(names: tuple[str, ...], seed: int = 7) -> tuple[dict[str, Array], ...]:
    """Signals of each drive by name, (corner, sample) at 200 Hz, in SI; all in one batch, in drive mode dash."""
    shipped = shipped_calibrations()
    plug_ins = discover()
    calibration = read_calibration(shipped / "strategies" / "marram_baseline.toml", plug_ins)
    vehicle = read_vehicle(shipped / "vehicles" / "marram_2.toml")
    folders = ("sections", "lanes")
    files = [
        next(shipped / folder / f"{name}.toml" for folder in folders if (shipped / folder / f"{name}.toml").is_file()) for name in names
    ]
    courses = [read_section(file).build() for file in files]
    cases = tuple(Case(name, calibration.name, "dash", seed + index, "marram 2") for index, name in enumerate(names))
    strategy = Strategy([calibration], [0] * len(names), plug_ins, DT)
    modes = np.full(len(names), calibration.modes.index("dash"), np.int16)
    sensors = with_offsets(Sensors(dict(TYPICAL), seed), vehicle)
    run = drive(courses, [vehicle] * len(names), strategy, cases, modes, sensors=sensors).whole()
    found = []
    for case in range(len(names)):
        ticks = np.floor(np.arange(0, int(run.running[0, :, case].sum()) - 1, STEP)).astype(int)
        found.append({name: values[:, ticks, case] for name, values in run.signals.items()})
    return tuple(found)


def strung(order: Sequence[str], seed: int = 7) -> Strung:
    """Drives one after another; a name may come several times and is then driven once."""
    names = tuple(dict.fromkeys(order))
    drives = dict(zip(names, driven(names, seed), strict=True))
    random = np.random.default_rng(seed)
    lengths = [drives[name]["yaw_rate"].shape[1] for name in order]
    joined = {signal: np.concatenate([drives[name][signal] for name in order], axis=1) for signal in drives[names[0]]}
    samples = sum(lengths)
    ticks = np.floor(np.arange(samples) * STEP)
    stamps = ticks * DT + np.clip(random.normal(0.0, 0.2e-3, samples), -0.8e-3, 0.8e-3)
    ends = np.cumsum(lengths) * STEP * DT
    stretches = [Stretch(name, end - length * STEP * DT, end) for name, length, end in zip(order, lengths, ends.tolist(), strict=True)]
    return Strung(_frame(stamps - stamps[0], joined), tuple(stretches))


def _frame(stamps: Array, signals: dict[str, Array]) -> pd.DataFrame:
    columns: dict[str, Any] = {"time_s": np.round(stamps, 4)}
    columns |= {f"travel_{short}_mm": _travel(short, 1e3 * signals["shaft_travel"][corner]) for corner, short in enumerate(SHORT)}
    for axis in "xyz":
        columns[f"accel_{axis}_g"] = np.round(signals[f"specific_force_{axis}"][0] / STANDARD_GRAVITY, 4)
    for about in ("roll", "pitch", "yaw"):
        columns[f"{about}_rate_deg_s"] = np.round(np.rad2deg(signals[f"{about}_rate"][0]), 3)
    slow = {
        "steer_deg": np.rad2deg(signals["steer_angle"][0]),
        "brake_pct": 100 * signals["brake"][0],
        "throttle_pct": 100 * signals["throttle"][0],
    }
    slow |= {f"wheel_speed_{short}_km_h": 3.6 * signals["wheel_speed"][corner] for corner, short in enumerate(SHORT)}
    between = np.arange(len(stamps)) % SLOW != 0
    columns |= {name: np.where(between, np.nan, np.round(values, 2)) for name, values in slow.items()}
    for side, long in (("comp", "compression"), ("reb", "rebound")):
        for corner, short in enumerate(SHORT):
            columns[f"duty_{side}_{short}_pct"] = np.round(100 * signals[f"applied_{long}"][corner], 1)
    columns |= {"state_airborne": np.zeros(len(stamps), dtype=int), "drive_mode": np.ones(len(stamps), dtype=int)}
    return pd.DataFrame(columns)


def _travel(short: str, values: Array) -> Array:
    return np.round(300.0 - values if short == "rr" else values, 2)  # rear right is mounted the other way round


def write_run(folder: Path, name: str, frame: pd.DataFrame, *, sections: Sequence[Stretch] = (), marker: bool = False) -> Path:
    """A run file with its log and the shipped logger's channel map beside it."""
    shipped = shipped_calibrations()
    frame.to_csv(folder / f"{name}.csv", index=False)
    text = (shipped / "channel_maps" / "marram_logger.toml").read_text(encoding="utf-8")
    more = '\n[marker]\ncolumn = "marker"\n' if marker and "[marker]" not in text else ""
    (folder / f"{name}_logger.toml").write_text(text + more, encoding="utf-8")
    listed = [f'{{ name = "{stretch.name}", start_s = {stretch.start:.3f}, end_s = {stretch.end:.3f} }}' for stretch in sections]
    lines = [
        f'log = "{name}.csv"',
        f'channel_map = "{name}_logger.toml"',
        'driven_by = "marram baseline"',
        'vehicle = "marram 2"',
        'note = "invented"',
    ]
    path = folder / f"{name}.toml"
    path.write_text("\n".join([*lines, f"sections = [{', '.join(listed)}]", ""]), encoding="utf-8")
    return path
