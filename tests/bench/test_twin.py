"""The compiled kernel and a C twin of the same equations drive the same courses alike: whatever the compiler, the numbers stay."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

import dualduty

HOUSE = Path(dualduty.__file__).parent.parent
PROBES = Path(__file__).with_name("plant_probes.py")


def test_kernel_and_twin_drive_alike() -> None:
    command = [sys.executable, str(PROBES), "agreement"]
    done = subprocess.run(command, capture_output=True, text=True, check=False, env=os.environ | {"PYTHONPATH": str(HOUSE)})
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    if "skipped" in found:
        pytest.skip(found["skipped"])
    assert found["flown"] > 0.1  # s with no wheel on the ground: the course does jump, and lands
    assert found["stop"] > 5e3  # N: on the bump stops
    assert found["roll"] > 0.05  # rad: left isn't right
    # m, rad, m/s, rad/s, kN: measures at most 4e-13 where C may join a product and a sum, 1e-13 where it may not; 1e-9 is wanted
    assert max(found["apart"].values()) < 1e-9, found["apart"]
