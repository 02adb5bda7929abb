"""Recordings that nobody here made, fetched by package name into a cache folder and never kept in this repository.

scikit_kinematics 0.10.4, source distribution on PyPI, BSD licence (its LICENSE.txt, copyright 2016 Thomas Haslwanter), `tests/data`:
an inertial unit waved about by hand. `data_xio/00033_CalInertialAndMag.csv`: 256 Hz, 49 s, no time column, short stretches of little
felt force that are no free fall. `data_xio3/Inertial.csv`: 50 Hz, 10 s, stamps in microseconds with jitter.
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

PACKAGE: Final = "scikit_kinematics==0.10.4"
LICENCE: Final = "BSD"
HAND_WAVED: Final = "tests/data/data_xio/00033_CalInertialAndMag.csv"
HAND_WAVED_CLOCK: Final = "tests/data/data_xio/00033_DateTime.csv"
STAMPED: Final = "tests/data/data_xio3/Inertial.csv"

_AXES: Final = """
[signals.specific_force_x]
column = "Accelerometer X (g)"
unit = "g"
[signals.specific_force_y]
column = "Accelerometer Y (g)"
unit = "g"
[signals.specific_force_z]
column = "Accelerometer Z (g)"
unit = "g"
[signals.roll_rate]
column = "Gyroscope X (deg/s)"
unit = "deg/s"
[signals.pitch_rate]
column = "Gyroscope Y (deg/s)"
unit = "deg/s"
[signals.yaw_rate]
column = "Gyroscope Z (deg/s)"
unit = "deg/s"
[mode]
constant = "dash"
[run]
vehicle = "none: an inertial unit in a hand"
"""
HAND_WAVED_MAP: Final = "[time]\nrate_hz = 256\n" + _AXES
STAMPED_MAP: Final = '[time]\ncolumn = "Timestamp (us)"\nunit = "us"\n' + _AXES


class NotReachable(Exception):  # noqa: N818 - reads as what it is
    """The package registry can't be reached, or no longer has the package."""


def recording(member: str) -> Path:
    """A file of the package's source distribution; NotReachable when it can't be fetched."""
    path = _cache() / Path(member).name
    if not path.is_file():
        with tarfile.open(_archive()) as archive:
            entry = next(entry for entry in archive.getmembers() if entry.name.endswith("/" + member))
            source = archive.extractfile(entry)
            assert source is not None
            beside = path.with_name(f".{path.name}.{os.getpid()}")
            beside.write_bytes(source.read())
            beside.replace(path)
    return path


def _cache() -> Path:
    root = os.environ.get("XDG_CACHE_HOME") or str(Path.home() / ".cache")
    folder = Path(root) / "dualduty" / "foreign_recordings"
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError:
        folder = Path(tempfile.gettempdir()) / "dualduty_foreign_recordings"
        folder.mkdir(parents=True, exist_ok=True)
    return folder


@functools.cache
def _archive() -> Path:
    name = PACKAGE.split("==")[0]
    command = [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps", "--no-binary", name]
    held = list(_cache().glob(f"{name}-*.tar.gz"))
    if not held:
        try:
            subprocess.run([*command, "--dest", str(_cache()), PACKAGE], check=True, capture_output=True, timeout=60, text=True)
        except (subprocess.SubprocessError, OSError) as error:
            last = (getattr(error, "stderr", None) or str(error)).strip().splitlines()[-1:]
            raise NotReachable(f"{PACKAGE} can't be fetched from the package registry: {''.join(last)}") from None
        held = list(_cache().glob(f"{name}-*.tar.gz"))
    return held[0]
