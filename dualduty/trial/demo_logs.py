"""Make the marked demo logs: a car that is not the nominal one, driven round an invented loop, recorded with faults.

Run as `python -m dualduty.trial.demo_logs FOLDER`; the same seeds give the same files.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.calibration.read import read_calibration
from dualduty.discovery import discover
from dualduty.files import write_text
from dualduty.trace import Case, TraceChunk
from dualduty.trial.clock import DT
from dualduty.units import STANDARD_GRAVITY
from plant.closed_loop import drive
from plant.section import read_section
from plant.sensor_offsets import with_offsets
from plant.sensors import TYPICAL, Sensors
from plant.vehicle import read_vehicle
from replay.marks import COLUMNS
from strategies.controller import Strategy

Array = NDArray[np.float64]

LOG_RATE: Final = 200.0  # Hz
SLOW: Final = 4  # bus channels come at a quarter of that
_SHORT: Final = ("fl", "fr", "rl", "rr")
_LEAST: Final = {"airborne": 0.08, "cornering": 0.3, "braking": 0.05}  # s; shorter stretches are not marked
_VEHICLE_COLUMNS: Final = {  # column: signal, factor to the unit in its name, digits, one in how many samples
    "accel_x_g": ("specific_force_x", 1 / STANDARD_GRAVITY, 4, 1),
    "accel_y_g": ("specific_force_y", 1 / STANDARD_GRAVITY, 4, 1),
    "accel_z_g": ("specific_force_z", 1 / STANDARD_GRAVITY, 4, 1),
    "roll_rate_deg_s": ("roll_rate", 180 / np.pi, 3, 1),
    "pitch_rate_deg_s": ("pitch_rate", 180 / np.pi, 3, 1),
    "yaw_rate_deg_s": ("yaw_rate", 180 / np.pi, 3, 1),
    "steer_deg": ("steer_angle", 180 / np.pi, 2, SLOW),
    "brake_pct": ("brake", 100.0, 1, SLOW),
    "throttle_pct": ("throttle", 100.0, 1, SLOW),
}
BRAKING: Final = 0.08  # demand a marker would call braking
PAUSE: Final = 0.5  # s
_LANDING: Final = 0.25  # s
_LOST_COLUMN: Final = 3  # a travel channel, after the time


@dataclass(frozen=True)
class Recipe:
    """One demo log: its name, the drive mode, and the seed of its sensor noise."""

    name: str
    mode: str
    seed: int


RECIPES: Final = (Recipe("quarry_loop_dash", "dash", 71), Recipe("quarry_loop_patrol", "patrol", 72))


def make_demo_logs(shipped: Path, folder: Path) -> list[Path]:
    """Drive, record and mark every recipe; gives the run files written."""
    plug_ins = discover()
    calibration = read_calibration(shipped / "strategies" / "marram_baseline.toml", plug_ins)
    course = read_section(shipped / "lanes" / "quarry_loop.toml").build()
    vehicle = read_vehicle(shipped / "vehicles" / "marram_2.toml")
    written = []
    for recipe in RECIPES:
        plain = Sensors({name: replace(error, dropout=0.0005) for name, error in TYPICAL.items()}, recipe.seed)
        sensors = with_offsets(plain, vehicle)
        case = Case(recipe.name, calibration.name, recipe.mode, recipe.seed, "marram 2")
        strategy = Strategy([calibration], [0], plug_ins, DT)
        mode = np.array([calibration.modes.index(recipe.mode)], np.int16)
        run = drive([course], [vehicle], strategy, (case,), mode, sensors=sensors).whole()
        _write(folder, recipe, run, calibration.name)
        written.append(folder / f"{recipe.name}.toml")
    return written


def _write(folder: Path, recipe: Recipe, run: TraceChunk, driven_by: str) -> None:
    write_text(folder / f"{recipe.name}.csv", _log_text(run, recipe))
    write_text(folder / f"{recipe.name}.marks.csv", _marks_text(run))
    lines = [
        "# Invented demo data: simulated with a car that differs from the nominal one, with sensor noise and dropouts.",
        f'log = "{recipe.name}.csv"',
        'channel_map = "../channel_maps/marram_logger.toml"',
        f'marks = "{recipe.name}.marks.csv"',
        f'driven_by = "{driven_by}"',
        'vehicle = "marram 2"',
        f'note = "Invented. Gorse Pit quarry loop, {recipe.mode}, two aboard."',
    ]
    write_text(folder / f"{recipe.name}.toml", "\n".join(lines) + "\n")


def _log_text(run: TraceChunk, recipe: Recipe) -> str:
    """The log as a logger would have written it: own names, units, signs and rate."""
    step = round(1.0 / (LOG_RATE * DT) * 2) / 2
    random = np.random.default_rng(recipe.seed)
    ticks = np.unique(np.floor(np.arange(0, run.ticks - 1, step)).astype(int))
    stamps = ticks * DT + np.clip(random.normal(0.0, 0.2e-3, len(ticks)), -0.8e-3, 0.8e-3)
    columns = dict(_columns(run, ticks))
    head = ",".join(["time_s", *columns, "drive_mode"])
    mode = run.mode[0, ticks, 0]
    cells = [[f"{stamp - stamps[0]:.4f}" for stamp in stamps], *columns.values(), [str(number) for number in mode]]
    lost = _drop_stretch(cells, len(ticks), random)
    note = f"# invented demo log; car marram 2; {lost}\n"
    return note + head + "\n" + "\n".join(",".join(row) for row in zip(*cells, strict=True)) + "\n"


def _drop_stretch(cells: list[list[str]], samples: int, random: np.random.Generator) -> str:
    """Lose one travel channel for 0.12 s somewhere in the second half."""
    start = int(random.integers(samples // 2, samples - 100))
    for sample in range(start, start + round(0.12 * LOG_RATE)):
        cells[_LOST_COLUMN][sample] = ""
    return f"one travel channel drops out near {start / LOG_RATE:.0f} s"


def _columns(run: TraceChunk, ticks: NDArray[np.int_]) -> Iterator[tuple[str, list[str]]]:
    """Columns of the invented logger, named as `channel_maps/marram_logger.toml` expects them."""

    def text(values: Array, digits: int, every: int = 1) -> list[str]:
        chosen = values[ticks]
        return ["" if np.isnan(value) or sample % every else f"{value:.{digits}f}" for sample, value in enumerate(chosen)]

    signals = {name: values[:, :, 0] for name, values in run.signals.items()}
    for corner, short in enumerate(_SHORT):
        travel = 1e3 * signals["shaft_travel"][corner]
        yield f"travel_{short}_mm", text(300.0 - travel if short == "rr" else travel, 2)  # rear right is mounted the other way round
    for name, (source, factor, digits, every) in _VEHICLE_COLUMNS.items():
        yield name, text(factor * signals[source][0], digits, every)
    for corner, short in enumerate(_SHORT):
        yield f"wheel_speed_{short}_km_h", text(3.6 * signals["wheel_speed"][corner], 2, SLOW)
        yield f"duty_comp_{short}_pct", text(100.0 * signals["applied_compression"][corner], 1)
        yield f"duty_reb_{short}_pct", text(100.0 * signals["applied_rebound"][corner], 1)
    yield "state_airborne", text(run.states["airborne"][0, :, 0], 0)


def _marks_text(run: TraceChunk) -> str:
    """Marks from the plant's truth: what someone who knows would have written beside the log."""
    rows = ["# invented demo data", ",".join(COLUMNS)]
    time = np.arange(run.ticks) * DT
    for state, side, gate in _truth_states(run):
        for first, last in _stretches(gate, _LEAST.get(state, 0.05)):
            rows.append(f"{state},{time[first]:.3f},{time[min(last, run.ticks - 1)]:.3f},,yes,truth of the simulation,{side}")
    return "\n".join(rows) + "\n"


def _truth_states(run: TraceChunk) -> Iterator[tuple[str, str, NDArray[np.bool_]]]:
    fine = run.truth["wheel_load"].shape[1] // run.ticks
    load = run.truth["wheel_load"][:, ::fine, 0]
    speed = run.truth["speed"][0, ::fine, 0]
    lateral = run.signals["yaw_rate"][0, :, 0] * speed
    smooth = _smoothed(lateral)
    airborne: NDArray[np.bool_] = np.asarray((load[:, : run.ticks] < 1.0).all(axis=0))
    yield "airborne", "", airborne
    yield "landing", "", _after(airborne, _LEAST["airborne"])
    yield "cornering", "left", smooth > 0.25 * STANDARD_GRAVITY
    yield "cornering", "right", smooth < -0.25 * STANDARD_GRAVITY
    yield "braking", "", _bridged(_filled(run.signals["brake"][0, :, 0]) > BRAKING, PAUSE)


def _bridged(gate: NDArray[np.bool_], longest: float) -> NDArray[np.bool_]:
    """The gate with pauses up to `longest` s filled: nobody marks a foot that moves on the pedal as two stops."""
    joined = gate.copy()
    for first, last in _stretches(~gate, 0.0):
        if first > 0 and last < len(gate) and (last - first) * DT <= longest:
            joined[first:last] = True
    return joined


def _filled(values: Array) -> Array:
    """Values with gaps bridged by straight lines."""
    ticks = np.arange(len(values))
    good = np.isfinite(values)
    return np.interp(ticks, ticks[good], values[good])


def _smoothed(values: Array) -> Array:
    """Gaps bridged, then a centred mean over 0.2 s: a marker sees both ways."""
    return np.convolve(_filled(values), np.full(101, 1 / 101), mode="same")


def _after(airborne: NDArray[np.bool_], least: float) -> NDArray[np.bool_]:
    gate = np.zeros_like(airborne)
    for _, last in _stretches(airborne, least):
        gate[last : last + round(_LANDING / DT)] = True
    return gate


def _stretches(gate: NDArray[np.bool_], least: float) -> list[tuple[int, int]]:
    """First tick of each open stretch and first tick after it, short ones left out."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], gate.astype(int), [0]])))
    pairs = zip(edges[::2], edges[1::2], strict=True)
    return [(int(first), int(last)) for first, last in pairs if (last - first) * DT >= least]


if __name__ == "__main__":
    from dualduty.shipped import shipped_calibrations

    for path in make_demo_logs(shipped_calibrations(), Path(sys.argv[1])):
        sys.stdout.write(f"wrote {path}\n")
