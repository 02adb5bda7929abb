"""Recordings of a drive that never was, as three made-up loggers would name and scale the same motion; all invented."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from replay.recording import Block, Column, Group, Recording

Array = NDArray[np.float64]
Columns = Mapping[str, tuple[str, Array]]  # name -> unit, values
CORNERS = ("front_left", "front_right", "rear_left", "rear_right")
SECONDS = 20.0
DEGREE = np.pi / 180


@dataclass
class HeldRecording(Recording):
    """Groups of columns in memory; any column can be read as text."""

    held: tuple[Columns, ...] = ()
    clocks: tuple[Array | None, ...] = ()
    block: int = 700
    asked: list[str] = field(default_factory=list)

    def blocks(self, group: int, numbers: Sequence[str], texts: Sequence[str] = ()) -> Iterator[Block]:
        """A fresh pass."""
        columns, clock = self.held[group], self.clocks[group]
        self.asked += [*numbers, *texts]
        samples = len(next(iter(columns.values()))[1])
        for start in range(0, samples, self.block):
            cut = slice(start, min(start + self.block, samples))
            yield Block(
                {name: np.asarray(columns[name][1][cut], dtype=np.float64) for name in numbers},
                {name: _texts(columns[name][1][cut]) for name in texts},
                np.arange(cut.start, cut.stop),
                cut.stop / samples,
                None if clock is None else clock[cut],
            )


def _texts(values: Any) -> NDArray[Any]:
    return np.array([None if value != value else str(value) for value in values], dtype=object)  # noqa: PLR0124 - NaN


def recording_of(*groups: Columns, clocks: Sequence[Array | None] = (), name: str = "made_up.csv") -> HeldRecording:
    """A recording of some groups, each with a clock of its own where one is given."""
    runs = tuple(clocks) or (None,) * len(groups)
    made = tuple(
        Group(
            f"group {index + 1}" if len(groups) > 1 else "",
            tuple(Column(key, unit) for key, (unit, _) in columns.items()),
            "" if run is None else "clock",
        )
        for index, (columns, run) in enumerate(zip(groups, runs, strict=True))
    )
    return HeldRecording(name, made, counts="sample", held=tuple(groups), clocks=runs)


def motion(rate: float = 200.0, seed: int = 7) -> dict[str, Array]:
    """One drive in SI: by signal, corners as `shaft_travel front_left`; at rest, over bumps, round a bend, braking."""
    random = np.random.default_rng(seed)
    time = np.arange(int(SECONDS * rate), dtype=np.float64) / rate
    made: dict[str, Array] = {"time": time}
    drift = np.cumsum(random.normal(0.0, 1.0, (8, len(time))), axis=1)
    drift -= np.outer(drift[:, -1], time / time[-1])
    drift /= np.abs(drift).max(axis=1, keepdims=True)
    speed = 12.0 + 6.0 * np.sin(2 * np.pi * time / SECONDS)
    for index, corner in enumerate(CORNERS):
        bump = np.sin(2 * np.pi * (1.3 + 0.1 * index) * time) * 0.03
        made[f"shaft_travel {corner}"] = 0.12 + 0.02 * (index // 2) + 0.04 * drift[index] + bump
        made[f"wheel_speed {corner}"] = speed * (1.0 + 0.01 * index) + random.normal(0.0, 0.05, len(time))
        made[f"compression {corner}"] = np.clip(0.4 + 0.3 * drift[index], 0.0, 1.0)
        made[f"rebound {corner}"] = np.clip(0.5 - 0.3 * drift[index], 0.0, 1.0)
    made["specific_force_x"] = 2.0 * drift[4] + random.normal(0.0, 0.3, len(time))
    made["specific_force_y"] = 4.0 * drift[5] + random.normal(0.0, 0.3, len(time))
    made["specific_force_z"] = 9.80665 + 3.0 * np.sin(2 * np.pi * 1.5 * time) + random.normal(0.0, 0.5, len(time))
    for axis, size in (("roll", 0.4), ("pitch", 0.5), ("yaw", 0.6)):
        made[f"{axis}_rate"] = size * np.sin(2 * np.pi * (0.4 + size) * time) + random.normal(0.0, 0.01, len(time))
    made["steer_angle"] = 0.2 * drift[6]
    made["brake"] = np.clip(drift[7], 0.0, 1.0)
    made["throttle"] = np.clip(-drift[7], 0.0, 1.0)
    made["airborne"] = (np.abs(time - 7.0) < 0.3).astype(float)
    made["marker"] = ((np.abs(time - 3.0) < 0.1) | (np.abs(time - 15.0) < 0.1)).astype(float)
    return made


def slow(values: Array, every: int) -> Array:
    """The same with a value in every so many samples only."""
    return np.where(np.arange(len(values)) % every == 0, values, np.nan)


def workshop_logger() -> tuple[HeldRecording, dict[str, str]]:
    """Words run together, corners first, units in a row of their own, inches and mph; and what each column is."""
    si, labels = motion(), dict(zip(CORNERS, ("LF", "RF", "LR", "RR"), strict=True))
    columns: dict[str, tuple[str, Array]] = {"TimeStamp": ("ms", si["time"] * 1e3)}
    meant: dict[str, str] = {}
    for corner, label in labels.items():
        columns |= {
            f"{label}ShockPos": ("in", si[f"shaft_travel {corner}"] / 0.0254),
            f"{label} Whl Spd": ("mph", si[f"wheel_speed {corner}"] / 0.44704),
        }
        columns |= {f"PWM_{label}_Cmp": ("%", 100 * si[f"compression {corner}"]), f"PWM_{label}_Rbd": ("%", 100 * si[f"rebound {corner}"])}
        meant |= {f"{label}ShockPos": f"shaft_travel {corner}", f"{label} Whl Spd": f"wheel_speed {corner}"}
        meant |= {f"PWM_{label}_Cmp": f"applied_compression {corner}", f"PWM_{label}_Rbd": f"applied_rebound {corner}"}
    for axis, name in (("x", "AccelLong"), ("y", "AccelLat"), ("z", "AccelVert")):
        columns[name], meant[name] = ("G", si[f"specific_force_{axis}"] / 9.80665), f"specific_force_{axis}"
    for about in ("Roll", "Pitch", "Yaw"):
        columns[f"{about}Rate"], meant[f"{about}Rate"] = ("deg/sec", si[f"{about.lower()}_rate"] / DEGREE), f"{about.lower()}_rate"
    columns |= {"BrkPress": ("psi", 1200 * si["brake"]), "ThrottlePos": ("%", 100 * si["throttle"]), "DriverBtn": ("", si["marker"])}
    columns |= {
        "EngineTemp": ("degF", 190 + 0 * si["time"]),
        "RF Shock Temp": ("degF", 120 + 5 * si["brake"]),
        "GPSSpeed": ("mph", si["wheel_speed front_left"]),
    }
    return recording_of(columns), meant | {"BrkPress": "brake", "ThrottlePos": "throttle", "DriverBtn": "marker"}


def bus_logger() -> tuple[HeldRecording, dict[str, str]]:
    """Two groups at their own rates, SI units, axes as letters, commands beside what was measured."""
    fast, slower = motion(500.0), motion(50.0)
    sensors: dict[str, tuple[str, Array]] = {}
    chassis: dict[str, tuple[str, Array]] = {}
    meant: dict[str, str] = {}
    for corner, label in zip(CORNERS, ("fl", "fr", "rl", "rr"), strict=True):
        sensors[f"damper_{label}"], meant[f"damper_{label}"] = ("m", fast[f"shaft_travel {corner}"]), f"shaft_travel {corner}"
        chassis[f"wss_{label}"], meant[f"wss_{label}"] = ("m/s", slower[f"wheel_speed {corner}"]), f"wheel_speed {corner}"
        for side in ("compression", "rebound"):
            name = f"cmd_{side}_{label}"
            chassis[name], meant[name] = ("1", slower[f"{side} {corner}"]), f"command {side} {corner}"
    for axis, about in (("x", "roll"), ("y", "pitch"), ("z", "yaw")):
        sensors[f"imu_a{axis}"], meant[f"imu_a{axis}"] = ("m/s^2", fast[f"specific_force_{axis}"]), f"specific_force_{axis}"
        sensors[f"imu_w{axis}"], meant[f"imu_w{axis}"] = ("rad/s", fast[f"{about}_rate"]), f"{about}_rate"
    chassis |= {"swa": ("deg", slower["steer_angle"] * (15 / DEGREE)), "in_air_state airborne": ("1", slower["airborne"])}
    return recording_of(sensors, chassis, clocks=(fast["time"], slower["time"])), meant | {
        "in_air_state airborne": "state airborne",
        "swa": "steer_angle",
    }


def garage_logger() -> tuple[HeldRecording, dict[str, str]]:
    """No unit anywhere, German words, sensor volts for the travel, a raw and a filtered lateral channel, z down."""
    si = motion(100.0)
    columns: dict[str, tuple[str, Array]] = {"Zeit": ("", si["time"])}
    meant: dict[str, str] = {}
    for corner, label in zip(CORNERS, ("VL", "VR", "HL", "HR"), strict=True):
        columns[f"Federweg_{label} [V]"] = ("", 0.5 + 4.0 * si[f"shaft_travel {corner}"] / 0.3)
        columns[f"v_{label}"] = ("", slow(3.6 * si[f"wheel_speed {corner}"], 4))
        meant |= {f"Federweg_{label} [V]": f"shaft_travel {corner}", f"v_{label}": f"wheel_speed {corner}"}
    columns |= {
        "gx": ("", si["specific_force_x"] / 9.80665),
        "gy": ("", -si["specific_force_y"] / 9.80665),
        "gz": ("", -si["specific_force_z"] / 9.80665),
    }
    columns |= {"gy_filt": ("", -si["specific_force_y"] / 9.80665), "gyro_z": ("", -si["yaw_rate"] / DEGREE)}
    columns |= {"Bremse": ("", 100 * si["brake"]), "Modus": ("", 1.0 + np.floor(si["time"] / 10.0)), "Notiz": ("", np.nan * si["time"])}
    return recording_of(columns), meant | {
        "gx": "specific_force_x",
        "gy": "specific_force_y",
        "gz": "specific_force_z",
        "gyro_z": "yaw_rate",
        "Bremse": "brake",
    }
