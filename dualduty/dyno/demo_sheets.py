"""Invented demo sheets of the eight dampers of the two Marrams: `python -m dualduty.dyno.demo_sheets FOLDER`."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.car import Car, read_car
from dualduty.errors import BadInput
from dualduty.files import write_text
from dualduty.shipped import shipped_calibrations
from dualduty.signals import CORNERS

Array = NDArray[np.float64]

SEED: Final = 20417
REVERSED: Final = "MD-2101"  # the bench of this one noted the wrong sign; the right sheet lies in corrected/
VEHICLES: Final = ("marram", "marram_2")
DUTIES: Final = (0.0, 0.25, 0.5, 0.75, 1.0)
_CRAWLS: Final = (0.005,)  # m/s
_GRID_DUTIES: Final = (0.0, 0.5, 1.0)
_GRID_SPEEDS: Final = (0.4, 1.5)  # m/s
_REPEATS: Final = 3
_NOISE: Final = 3.0  # N, of a load cell
_REPEAT_SCALE: Final = 0.005  # one pass against the next
_SPEED_SCALE: Final = 0.003  # of a servo machine
_HEADER: Final = "compression_duty_pct,rebound_duty_pct,shaft_speed_m_s,force_n,repeat,travel_mm,oil_temperature_degc"


@dataclass(frozen=True)
class Truth:
    """What a demo damper really is; `weak` scales rebound above 1 m/s, blended in from 0.8 to 1.2 m/s."""

    corner: int
    compression_scale: float
    rebound_scale: float
    weak: float
    gas_force: float
    gas_rate: float
    friction: float
    compression_crosstalk: float
    rebound_crosstalk: float


def force_of(car: Car, truth: Truth, duties: tuple[float, float], speed: float, travel: float) -> float:
    """Force on the machine, compression positive, at (compression, rebound) duties. [N]"""
    side, own, other = ("compression", duties[0], duties[1]) if speed > 0.0 else ("rebound", duties[1], duties[0])
    damper = float(car.damper_map(side, truth.corner).force(np.full((1, 1, 1), abs(speed)), np.full((1, 1, 1), own))[0, 0, 0])
    if side == "compression":
        damper *= truth.compression_scale * (1.0 + truth.compression_crosstalk * other)
    else:
        blend = min(max((abs(speed) - 0.8) / 0.4, 0.0), 1.0)
        damper *= truth.rebound_scale * (1.0 + (truth.weak - 1.0) * blend) * (1.0 + truth.rebound_crosstalk * other)
    return truth.gas_force + truth.gas_rate * travel + float(np.sign(speed)) * (truth.friction + damper)


def truth_of(vehicle: int, corner: int, seed: int = SEED) -> Truth:
    """The scatter of one damper: 1 to 2.5 % either way; the second vehicle's rear-right is 12 % weak in fast rebound."""
    rng = np.random.default_rng([seed, vehicle, corner])
    scale = 1.0 + rng.choice([-1.0, 1.0], 2) * rng.uniform(0.01, 0.025, 2)
    weak = 0.88 if (vehicle, corner) == (1, 3) else 1.0
    gas, rate, friction = 260.0 + rng.normal(0.0, 6.0), 420.0 + rng.normal(0.0, 15.0), 35.0 + rng.normal(0.0, 3.0)
    return Truth(corner, scale[0], scale[1], weak, gas, rate, friction, 0.06 + rng.normal(0.0, 0.004), 0.0)


def plan(speeds: Array, stroke: float) -> list[tuple[float, float, float, float]]:
    """What the bench drives: compression duty, rebound duty, speed (compression positive), travel; one repeat."""
    rows = [(0.0, 0.0, sign * speed, share * stroke) for speed in _CRAWLS for share in (0.2, 0.5, 0.8) for sign in (1.0, -1.0)]
    for duty in DUTIES:
        rows += [(duty, 0.0, speed, 0.5 * stroke) for speed in speeds]
        rows += [(0.0, duty, -speed, 0.5 * stroke) for speed in speeds]
    for compression in _GRID_DUTIES:
        for rebound in _GRID_DUTIES:
            signs = [sign for sign, other in ((1.0, rebound), (-1.0, compression)) if other > 0.0]
            rows += [(compression, rebound, sign * speed, 0.5 * stroke) for speed in _GRID_SPEEDS for sign in signs]
    return rows


def sheet_text(vehicle: int, corner: int, seed: int = SEED, *, reverse: bool = False) -> str:
    """One sheet as text; `reverse` counts speed and force positive in rebound against what the sheet declares."""
    car = read_car(shipped_calibrations() / "vehicles" / f"{VEHICLES[vehicle]}.toml")
    truth = truth_of(vehicle, corner, seed)
    rng = np.random.default_rng([seed, vehicle, corner, 1])
    speeds = car.damper_map("compression", corner).speeds[1:]
    lines = [*_top(vehicle, corner, float(car.stroke[corner])), _HEADER]
    flip = -1.0 if reverse else 1.0
    oil = 38.0
    for repeat in range(1, _REPEATS + 1):
        for compression, rebound, wanted, travel in plan(speeds, float(car.stroke[corner])):
            speed = round(wanted * (1.0 + rng.normal(0.0, _SPEED_SCALE)), 4)
            force = force_of(car, truth, (compression, rebound), speed, travel)
            force = force * (1.0 + rng.normal(0.0, _REPEAT_SCALE)) + rng.normal(0.0, _NOISE)
            oil += 0.01
            cells = (compression * 100.0, rebound * 100.0, flip * speed, flip * round(force), repeat, round(travel * 1e3, 1), round(oil, 1))
            lines.append(",".join(f"{cell:g}" for cell in cells))
    return "\n".join(lines) + "\n"


def serial_of(vehicle: int, corner: int) -> str:
    """Serial number of a demo damper."""
    return f"MD-2{vehicle + 1}0{corner + 1}"


def _top(vehicle: int, corner: int, stroke: float) -> Sequence[str]:
    build = ("MF-3" if corner < 2 else "MR-3") + " valving 7"  # noqa: PLR2004 - two front corners
    told = {
        "provenance": "invented: no damper was measured; made by dualduty.dyno.demo_sheets",
        "serial": serial_of(vehicle, corner), "build": build, "vehicle": VEHICLES[vehicle], "corner": CORNERS[corner],
        "date": f"2026-03-{10 + vehicle:02d}", "sign": "compression_positive", "oil_temperature_degc": "40", "gas_pressure_bar": "14",
        "warm_up": "60 strokes at 0.5 m/s, both duties 50 %", "waveform": "sine, read at mid-stroke", "stroke_mm": f"{stroke * 1e3:g}",
        "repeats": str(_REPEATS),
    }  # fmt: skip
    return [f"# {key}: {said}" for key, said in told.items()]


def write_demo_sheets(folder: Path, seed: int = SEED) -> list[Path]:
    """All sheets below `folder`: marram_1/ and marram_2/, one of the first reversed, with the right one in marram_1/corrected/."""
    written = []
    for vehicle in range(len(VEHICLES)):
        for corner in range(len(CORNERS)):
            serial = serial_of(vehicle, corner)
            path = folder / f"marram_{vehicle + 1}" / f"{serial}.csv"
            write_text(path, sheet_text(vehicle, corner, seed, reverse=serial == REVERSED))
            written.append(path)
            if serial == REVERSED:
                written.append(path.parent / "corrected" / path.name)
                write_text(written[-1], sheet_text(vehicle, corner, seed))
    return written


def main() -> None:
    """Write the sheets into the folder named."""
    if len(sys.argv) != 2:  # noqa: PLR2004 - the command and its folder
        sys.exit("expected one folder: python -m dualduty.dyno.demo_sheets FOLDER")
    try:
        for path in write_demo_sheets(Path(sys.argv[1])):
            print(path)
    except BadInput as problem:
        sys.exit(str(problem))


if __name__ == "__main__":
    main()
