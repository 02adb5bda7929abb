"""A small calibration on the demo car, and ways to change its text."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

import dualduty
from dualduty.calibration.model import Calibration
from dualduty.calibration.read import read_calibration
from dualduty.discovery import PlugIns, discover

HOUSE = Path(dualduty.__file__).parent.parent
BASE = f"""
name = "base"
vehicle = "{(HOUSE / "calibrations" / "vehicles" / "marram.toml").as_posix()}"
modes = ["patrol", "dash", "haul"]

[detectors.Cornering]
on_g = 0.25
off_g = 0.18

[[layers]]
name = "base"
law = "ModeCurves"
[layers.ModeCurves.compression]
vehicle_speed_km_h = [0, 20, 50, 90]
pct = {{ patrol = [10, 12, 20, 30], dash = [18, 22, 34, 45], haul = [14, 16, 26, 36] }}

[[layers]]
name = "support"
law = "RollHold"
act = "raise"
when = ["cornering"]
unless = ["airborne"]
fade_in_ms = 60
[layers.RollHold]
outer_compression_pct = {{ patrol = 40, dash = {{ front = 55, rear = 48 }}, haul = 50 }}
"""


@pytest.fixture(scope="session")
def plug_ins() -> PlugIns:
    """Everything found."""
    return discover()


@pytest.fixture
def base(tmp_path: Path) -> Path:
    """`base.toml` in a folder of its own."""
    path = tmp_path / "base.toml"
    path.write_text(BASE, encoding="utf-8")
    return path


@pytest.fixture
def read(tmp_path: Path, base: Path, plug_ins: PlugIns) -> Callable[..., Calibration]:
    """`read(text, replace=...)`: a candidate that starts from the base, or the base with some of its text replaced."""

    def made(text: str = "", *, replace: tuple[str, str] | None = None, name: str = "candidate.toml") -> Calibration:
        path = tmp_path / name
        if replace is None:
            path.write_text(f'starts_from = "{base.name}"\n{text}', encoding="utf-8")
        else:
            assert replace[0] in BASE
            path.write_text(BASE.replace(*replace) + text, encoding="utf-8")
        return read_calibration(path, plug_ins)

    return made
