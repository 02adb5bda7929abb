"""A dynamometer sheet of one damper, read and checked: its force maps, and what was taken out of the forces to get them."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from dualduty.damper_map import DamperMap
from dualduty.signals import CORNERS, SIDES

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Facts:
    """What the sheet says about the test; `other` holds all further `# key: value` lines as written.

    oil_temperature is in °C, gas_pressure in Pa (as charged, at full extension), stroke in m.
    """

    oil_temperature: float
    gas_pressure: float
    warm_up: str
    waveform: str
    stroke: float
    repeats: int
    sign: str
    date: str
    provenance: str
    other: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True, eq=False)
class Sheet:
    """One damper on the dynamometer.

    The measured force is split as F = gas_force + gas_rate * travel + friction * sign(speed) + damper, compression
    positive; the maps hold the damper alone, against the motion, with the other side's duty at 0.

    gas_force : float
        Extends the shaft, at full extension (or at the travel of the test where the sheet names no travel). [N]
    gas_rate : float
        Growth of the gas force with shaft travel. [N/m]
    friction : float
        [N]
    maps : dict of side to DamperMap
        Sides are "compression" and "rebound".
    crosstalk : dict of side to float
        Relative change of this side's force per unit duty of the other side; 0 where the sheet has no grid. [1]
    crosstalk_residual : dict of side to float
        Root mean square of what the crosstalk number leaves over, relative to the force; nan without a grid. [1]
    spread : dict of side to (speed, duty) array
        Standard deviation over the repeats; nan where there is one repeat only; the row of speed 0 is 0. [N]
    loop_width : dict of side to (speed, duty) array
        Force at rising minus force at falling speed, at half the peak speed of the loop; nan where no loop was recorded. [N]
    notices : list of str
        One line each: file, row, and what an engineer should know though the sheet can be used.
    """

    file: Path
    serial: str
    build: str
    vehicle: str
    corner: str
    facts: Facts
    gas_force: float
    gas_rate: float
    friction: float
    maps: dict[str, DamperMap]
    crosstalk: dict[str, float]
    crosstalk_residual: dict[str, float]
    spread: dict[str, Array]
    loop_width: dict[str, Array]
    notices: list[str] = field(default_factory=list)

    @property
    def corner_index(self) -> int:
        """0..3: front-left, front-right, rear-left, rear-right."""
        return CORNERS.index(self.corner)

    @property
    def top_speed(self) -> float:
        """The highest shaft speed tested on both sides; a map extrapolates beyond its own (`DamperMap.beyond`). [m/s]"""
        return float(min(self.maps[side].speeds[-1] for side in SIDES))

    def damper_map(self, side: str) -> DamperMap:
        """The map of one side, the other side's duty at 0."""
        return self.maps[side]
