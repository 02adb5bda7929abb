"""All that a channel map can say, from a file of text to SI: the shipped example of a map over a made-up log."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from dualduty.shipped import shipped_calibrations
from dualduty.units import STANDARD_GRAVITY
from replay.channels.channel_map_file import read_channel_map
from replay.log import Log
from replay.open_log import open_log

Array = NDArray[np.float64]
MAP = shipped_calibrations() / "channel_maps" / "workshop_logger.toml"
NAMES = ("Time", "Button V", "LF pot", "RF pot", "LR pot", "RR pot", "LF speed", "RF speed", "LR speed", "RR speed",
         "Acc 1", "Acc 2", "Acc 3", "Gyro 1", "Gyro 2", "Gyro 3", "Brake line")  # fmt: skip
SAMPLES = 400


def recorded() -> dict[str, Array]:
    """What the logger writes down while the vehicle spins on a plate: 1 rad/s about its z, the unit where the map says."""
    time = np.arange(SAMPLES, dtype=np.float64) * 5.0
    held = {name: np.zeros(SAMPLES) for name in NAMES} | {"Time": time}
    held["Button V"] = np.where((time > 500) & (time < 700), 4.9, 0.1)
    for name in ("LF pot", "RF pot", "LR pot", "RR pot"):
        held[name] = np.full(SAMPLES, 2.4)
    for name in ("LF speed", "RF speed", "LR speed", "RR speed"):
        held[name] = np.full(SAMPLES, 10.0)
    forward, left = -0.42, 0.03
    ahead, aside = -forward, -left  # m/s²: at 1 rad/s the centripetal acceleration is minus the place
    # forward = "-y", left = "x": the unit's x reads what points left, its y what points back
    held["Acc 1"], held["Acc 2"] = np.full(SAMPLES, aside / STANDARD_GRAVITY), np.full(SAMPLES, -ahead / STANDARD_GRAVITY)
    held["Acc 3"], held["Gyro 3"] = np.ones(SAMPLES), np.full(SAMPLES, np.degrees(1.0))
    held["Brake line"] = np.full(SAMPLES, 625.0)
    return held


@pytest.fixture
def log(tmp_path: Path) -> Log:
    held = recorded()
    rows = [";".join(f"{held[name][at]:.9f}".replace(".", ",") for name in NAMES) for at in range(SAMPLES)]
    path = tmp_path / "run.csv"
    path.write_text("\n".join([";".join(NAMES), ";".join(["-"] * len(NAMES)), *rows]) + "\n", encoding="utf-8")
    return open_log(path, read_channel_map(MAP))


def signals(log: Log) -> dict[str, tuple[Array, Array]]:
    """Time and `(corner, sample)` values by signal."""
    rows: dict[int, tuple[list[Array], list[Array]]] = {}
    for part in log.parts():
        for row, values in zip(part.rows.tolist(), part.values, strict=True):
            times, held = rows.setdefault(row, ([], []))
            times.append(part.time)
            held.append(values)
    made = {row: (np.concatenate(times), np.concatenate(held)) for row, (times, held) in rows.items()}
    where = {name: [row for row in range(cut.start, cut.stop) if row in made] for name, cut in log.layout.rows.items()}
    return {name: (made[found[0]][0], np.stack([made[row][1] for row in found])) for name, found in where.items() if found}


def test_every_word_of_the_map_has_its_effect(log: Log) -> None:
    made = signals(log)
    # 2.4 V is a point of the curve; the sensor the other way round reads 300 mm over 4 V, falling
    np.testing.assert_allclose(made["shaft_travel"][1][:, 0], [0.138, 0.138, 0.138, 0.3 * 2.1 / 4.0], rtol=1e-12)
    np.testing.assert_allclose(made["wheel_speed"][1], 4.4704, rtol=1e-12)
    np.testing.assert_allclose(made["brake"][1], 0.5, rtol=1e-12)
    np.testing.assert_allclose(made["wheel_speed"][0][:2], [0.012, 0.017], atol=1e-12)
    np.testing.assert_allclose(made["brake"][0][:2], [0.0, 0.005], atol=1e-12)
    marker = made["marker"][1][0]
    assert (marker.sum(), np.flatnonzero(marker)[0]) == (39, 101)  # above 2.5 V from 505 to 695 ms


def test_the_unit_is_turned_and_brought_to_the_centre_of_gravity(log: Log) -> None:
    made = signals(log)
    # 9 decimals in the file are 1e-8 m/s²
    np.testing.assert_allclose(made["specific_force_x"][1], 0.0, atol=3e-8)
    np.testing.assert_allclose(made["specific_force_y"][1], 0.0, atol=3e-8)
    np.testing.assert_allclose(made["specific_force_z"][1], STANDARD_GRAVITY, rtol=1e-8)
    np.testing.assert_allclose(made["yaw_rate"][1], 1.0, rtol=1e-8)
