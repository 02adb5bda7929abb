"""Events that others have labelled in a recording that nobody here made, fetched by package name and never kept in this repository.

gaitmap 2.6.0, source distribution on PyPI: MIT licence for all but its folder gaitmap_mad, of which nothing is taken; copyright 2022
MaD-Lab Erlangen. `example_data/imu_sample.csv`: an inertial unit on each foot of somebody walking, 204.8 Hz, 39 s.
`stride_events_sample.csv`: 57 strides, each with the sample in which the foot leaves the ground (`tc`) and that in which it is back (`ic`).
"""

from __future__ import annotations

import functools
import os
import subprocess
import sys
import tarfile
import tempfile
from pathlib import Path
from typing import Final

import pandas as pd

from replay.marks.mark import Mark
from tests.replay.foreign_recordings import NotReachable

PACKAGE: Final = "gaitmap==2.6.0"
LICENCE: Final = "MIT"
RATE: Final = 204.8  # Hz, as the package's documentation says
FEET: Final = {"left": "front_left", "right": "front_right"}  # the places of ours that are nearest
_FOLDER: Final = "example_data"
_FILES: Final = ("imu_sample.csv", "stride_events_sample.csv")


@functools.cache
def gyroscopes() -> dict[str, pd.DataFrame]:
    """Rates of turn of each foot, three columns. [deg/s]"""
    table = pd.read_csv(_fetched()["imu_sample.csv"], header=[0, 1], index_col=0)
    axes = ("gyr_x", "gyr_y", "gyr_z")
    return {foot: pd.DataFrame({axis: table[f"{foot}_sensor", axis] for axis in axes}) for foot in FEET}


def marks_of_flights() -> list[Mark]:
    """A mark from each leaving of the ground to the next touch of it, by foot."""
    table = pd.read_csv(_fetched()["stride_events_sample.csv"])
    rows = zip(table["foot"], table["tc"] / RATE, table["ic"] / RATE, strict=True)
    return [Mark("foot_off", float(start), float(end), FEET[foot], who="gaitmap") for foot, start, end in rows]


@functools.cache
def _fetched() -> dict[str, Path]:
    """The files by name, in a cache folder; NotReachable when they can't be fetched."""
    folder = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "dualduty" / "foreign_events"
    folder.mkdir(parents=True, exist_ok=True)
    found = {name: folder / name for name in _FILES}
    if not all(path.is_file() for path in found.values()):
        with tempfile.TemporaryDirectory() as beside, tarfile.open(_downloaded(Path(beside))) as archive:
            for name, path in found.items():
                source = archive.extractfile(next(one for one in archive.getmembers() if one.name.endswith(f"/{_FOLDER}/{name}")))
                assert source is not None
                draft = path.with_suffix(".part")
                draft.write_bytes(source.read())
                draft.replace(path)
    return found


def _downloaded(folder: Path) -> Path:
    name = PACKAGE.split("==")[0]
    command = [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps", "--no-binary", name, "--dest", str(folder), PACKAGE]
    try:
        subprocess.run(command, check=True, capture_output=True, timeout=120, text=True)
    except (subprocess.SubprocessError, OSError) as error:
        last = (getattr(error, "stderr", None) or str(error)).strip().splitlines()[-1:]
        raise NotReachable(f"{PACKAGE} can't be fetched from the package registry: {''.join(last)}") from None
    return next(folder.glob(f"{name}-*.tar.gz"))
