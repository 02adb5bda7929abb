"""A made-up log of 31 jumps, with the marks of two people: for what a check of the airborne detector says of them."""

from __future__ import annotations

from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from dualduty.units import STANDARD_GRAVITY

Array = NDArray[np.float64]

RATE: Final = 200.0  # Hz
PERIOD: Final = 2.4  # s from one take-off to the next
FIRST: Final = 3.0  # s
AIR_TIMES: Final = (0.1, 0.105, 0.11, *np.linspace(0.16, 0.24, 8), *np.linspace(0.3, 0.48, 12), *np.linspace(0.52, 0.7, 8))  # s
WEAK: Final = 20  # index of the jump over a brow: the ground carries a little all along, shafts come out slowly
WEAK_CARRIED: Final = 0.026  # share of the weight
WEAK_EXTENDS: Final = 0.4  # s, in which its shafts come out
DIP: Final = FIRST + 12.5 * PERIOD  # s; between two jumps the car goes light for a moment, and stays on the ground
DIP_LASTS: Final = 0.1  # s
PROPOSED: Final = (4, 9)  # indices of the jumps that the detector itself proposed, and people accepted
EXTENDS: Final = 0.12  # s
WHEELS_SHARE: Final = 0.25  # of all masses, through the motion ratio: the demo car's
STATIC, HANG, DEEP = 100.0, 2.0, 170.0  # mm of shaft travel
LOG: Final = "jumps"
_CORNERS: Final = ("fl", "fr", "rl", "rr")


def take_offs() -> list[tuple[float, float]]:
    """Take-off and touchdown of each jump. [s]"""
    starts = [FIRST + index * PERIOD for index in range(len(AIR_TIMES))]
    return [(start, start + float(lasts)) for start, lasts in zip(starts, AIR_TIMES, strict=True)]


def write_jumps(folder: Path) -> None:
    """Log, marks and run file into a folder of logs."""
    time = np.arange(0.0, FIRST + (len(AIR_TIMES) + 0.5) * PERIOD, 1.0 / RATE)
    force, travel = _motion(time)
    random = np.random.default_rng(11)
    columns: dict[str, Array] = {"time_s": time}
    for place in _CORNERS:
        shown = travel + random.normal(0.0, 0.1, len(time))
        columns[f"travel_{place}_mm"] = 300.0 - shown if place == "rr" else shown  # mounted the other way round
    columns |= {"accel_x_g": random.normal(0.0, 0.01, len(time)), "accel_y_g": random.normal(0.0, 0.01, len(time))}
    columns["accel_z_g"] = force + random.normal(0.0, 0.005, len(time))
    for name in ("roll_rate_deg_s", "pitch_rate_deg_s", "yaw_rate_deg_s", "steer_deg"):
        columns[name] = random.normal(0.0, 0.3, len(time))
    columns |= {name: np.abs(random.normal(0.0, 0.3, len(time))) for name in ("brake_pct", "throttle_pct")}
    for place in _CORNERS:
        columns[f"wheel_speed_{place}_km_h"] = 40.0 + random.normal(0.0, 0.05, len(time))
        columns |= {f"duty_{side}_{place}_pct": np.full(len(time), 10.0) for side in ("comp", "reb")}
    columns |= {name: np.zeros(len(time)) for name in ("state_airborne", "seat_accel_z_g")}
    columns["drive_mode"] = np.ones(len(time))
    rows = np.column_stack(list(columns.values()))
    np.savetxt(folder / f"{LOG}.csv", rows, fmt="%.4f", delimiter=",", header=",".join(columns), comments="")
    (folder / f"{LOG}.marks.csv").write_text(_marks_text(), encoding="utf-8")
    (folder / f"{LOG}.toml").write_text(
        f'log = "{LOG}.csv"\nchannel_map = "../channel_maps/marram_logger.toml"\nmarks = "{LOG}.marks.csv"\n'
        'driven_by = "marram baseline"\nvehicle = "marram 2"\nnote = "Invented: 31 jumps made up for a test."\n', encoding="utf-8",
    )  # fmt: skip


def _motion(time: Array) -> tuple[Array, Array]:
    """Specific force upward [g] and shaft travel [mm]: shafts extend in 0.12 s, a blow at touchdown.

    In flight nothing but the wheels moves the body, so that m f = -4 m_u travel'' / ratio, and a share of the weight where some is carried.
    """
    force, travel = np.ones(len(time)), np.full(len(time), STATIC)
    for index, (start, end) in enumerate(take_offs()):
        air, after = (time >= start) & (time < end), (time >= end) & (time < end + 1.2)
        extends = WEAK_EXTENDS if index == WEAK else EXTENDS
        out, since = np.clip((time[air] - start) / extends, 0.0, 1.0), time[after] - end
        travel[air] = STATIC - (STATIC - HANG) * out**3 * (10.0 - 15.0 * out + 6.0 * out**2)  # no jerk at either end
        change = -(STATIC - HANG) * 60.0 * out * (1.0 - 3.0 * out + 2.0 * out**2) / extends**2 / 1000.0  # m/s²
        force[air] = (WEAK_CARRIED if index == WEAK else 0.0) - WHEELS_SHARE * change / STANDARD_GRAVITY
        force[after] = 1.0 + 1.6 * np.exp(-since / 0.08)
        travel[after] = (
            STATIC + (travel[air][-1] - STATIC) * np.exp(-since / 0.05) + (DEEP - STATIC) * since / 0.1 * np.exp(1.0 - since / 0.1)
        )
    force[(time >= DIP) & (time < DIP + DIP_LASTS)] = 0.0
    return force, travel


def _marks_text() -> str:
    """Both people mark every jump a little differently; two of them from what the detector proposed."""
    random = np.random.default_rng(5)
    lines = ["# invented: 31 jumps made up for a test", "state,start_s,end_s,corner_or_side,sure,who,note,origin,status"]
    for who in ("A. Ohm", "B. Ray"):
        for index, (start, end) in enumerate(take_offs()):
            origin = "detector Airborne of marram baseline" if index in PROPOSED else ""
            first, last = random.normal(0.0, 0.004, 2)
            note = f"jump {index + 1}" if who == "A. Ohm" else ""
            lines.append(f"airborne,{start + first:.4f},{end + last:.4f},,100 %,{who},{note},{origin},accepted")
            lines.append(f"landing,{end + last:.4f},{end + last + 0.25:.4f},,100 %,{who},{note},,accepted")
    return "\n".join(lines) + "\n"
