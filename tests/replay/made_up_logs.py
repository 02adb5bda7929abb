"""Made-up logs, channel maps and a controller that only remembers, for the tests of the replay; nothing here was measured."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from dualduty.controller import ControllerOutput
from dualduty.signals import CONTROLLER_LAYOUT, SIDES
from replay.channels.channel_map import ChannelMap
from replay.channels.channel_map_file import read_channel_map

MAP = """
[time]
column = "t"
unit = "s"
[mode]
column = "mode"
names = { 0 = "patrol", 1 = "dash" }
[run]
driven_by = "baseline 3"
tyre_pressure = "1.2 bar"
[signals.shaft_travel]
unit = "mm"
front_left = "fl"
front_right = { column = "fr", sign = -1, offset = 5 }
rear_left = "rl"
rear_right = "rr"
[signals.specific_force_z]
column = "az"
alternatives = ["acc z"]
unit = "g"
[signals.yaw_rate]
column = "wz"
unit = "deg/s"
sign = -1
"""


def write_map(folder: Path, text: str = MAP) -> ChannelMap:
    """A channel map read back from a file."""
    path = folder / "map.toml"
    path.write_text(text, encoding="utf-8")
    return read_channel_map(path)


def frame(samples: int = 200, dt: float = 0.005, seed: int = 1) -> pd.DataFrame:
    """Columns that fit `MAP`."""
    random = np.random.default_rng(seed)
    names = ("fl", "fr", "rl", "rr", "az", "wz")
    columns = {name: np.round(random.normal(1.0, 10.0, samples), 4) for name in names}
    mode = np.where(np.arange(samples) < samples // 2, 0, 1)
    return pd.DataFrame({"t": np.round(np.arange(samples) * dt + 100.0, 6), **columns, "mode": mode})


def write_csv(folder: Path, table: pd.DataFrame, name: str = "run.csv", **options: Any) -> Path:
    """A CSV log of a data frame."""
    path = folder / name
    table.to_csv(path, index=False, **options)
    return path


class Remembers:
    """A controller whose one state is "the sum of felt force so far is high"; its output depends on all that came before."""

    layers = ("base",)
    states = ("shaken",)

    def __init__(self, dt: float = 0.004, modes: tuple[str, ...] = ("patrol", "dash", "haul"), cases: int = 1) -> None:
        self.dt = dt
        self.modes = modes
        self.cases = cases

    def start(self) -> dict[str, Any]:
        """Fresh memory for all cases."""
        return {"sum": np.zeros(self.cases)}

    def run(self, sensed: Any, mode: Any, memory: Any) -> ControllerOutput:
        """Advance `memory` over a chunk."""
        felt = CONTROLLER_LAYOUT.split(sensed)["specific_force_z"]
        total = np.empty(felt.shape)
        for tick in range(felt.shape[1]):  # one by one: the same bits in every cut
            memory["sum"] = memory["sum"] + np.nan_to_num(felt[0, tick])
            total[0, tick] = memory["sum"]
        state = (np.sin(total) > 0).astype(float)
        duty = {side: np.clip(np.repeat(np.abs(np.sin(total)) * 0.1 + mode * 0.1, 4, axis=0), 0, 1) for side in SIDES}
        layer = {side: np.zeros(duty[side].shape, dtype=np.int16) for side in SIDES}
        flags = {side: np.zeros(duty[side].shape, dtype=np.uint8) for side in SIDES}
        valid = {name: np.isfinite(rows).astype(float) for name, rows in CONTROLLER_LAYOUT.split(sensed).items()}
        return ControllerOutput(valid, {"sum": total}, {"shaken": state}, {"shaken": state}, duty, duty, layer, flags)
