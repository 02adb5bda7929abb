"""Recordings that nobody here made, fetched by package name into a cache folder and never kept in this repository.

scikit_kinematics 0.10.4, source distribution on PyPI, BSD licence (its LICENSE.txt, copyright 2016 Thomas Haslwanter), `tests/data`:
an inertial unit waved about by hand. `data_xio/00033_CalInertialAndMag.csv`: 256 Hz, 49 s, no time column, short stretches of little
felt force that are no free fall. `data_xio3/Inertial.csv`: 50 Hz, 10 s, stamps in microseconds with jitter.

asammdf 8.8.28, source distribution on PyPI, LGPL 3 or later, `test/asammdf/gui/resources/ASAP2_Demo_V171.mf4`: MDF 4.10, 12 s of a demo
controller, seven groups at 10 Hz, 100 Hz and 1 kHz, conversions of most kinds. `test_batch.mf4`: one group of three channels.

gaitmap 2.6.0, source distribution on PyPI, MIT licence for all but its folder gaitmap_mad, of which nothing is taken; copyright 2022
MaD-Lab Erlangen. `example_data/imu_sample_ms_left.csv` and `imu_sample_ic_stride.csv`: inertial units on the feet of somebody walking,
the second with names in two lines.
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
MDF_PACKAGE: Final = "asammdf==8.8.28"
MDF_DEMO: Final = "test/asammdf/gui/resources/ASAP2_Demo_V171.mf4"
MDF_BATCH: Final = "test/asammdf/gui/resources/test_batch.mf4"
WALK_PACKAGE: Final = "gaitmap==2.6.0"
WALK: Final = "example_data/imu_sample_ms_left.csv"
WALK_TWO_LINES: Final = "example_data/imu_sample_ic_stride.csv"
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


def recording(member: str, package: str = PACKAGE) -> Path:
    """A file of a package's source distribution; NotReachable when it can't be fetched."""
    path = _cache() / Path(member).name
    if not path.is_file():
        with tarfile.open(_archive(package)) as archive:
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
def _archive(package: str) -> Path:
    held, problem = _fetched(package)
    if held is None:
        raise NotReachable(f"{package} can't be fetched from the package registry: {problem}")
    return held


@functools.cache
def _fetched(package: str) -> tuple[Path | None, str]:
    """The archive, or why there is none: asked for once, as a registry that can't be reached takes a minute to say so."""
    name = package.split("==", maxsplit=1)[0]
    command = [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps", "--no-binary", name]
    pattern = f"{name}-*.tar.gz"
    if not list(_cache().glob(pattern)):
        try:
            subprocess.run([*command, "--dest", str(_cache()), package], check=True, capture_output=True, timeout=60, text=True)
        except subprocess.TimeoutExpired:
            return None, "no answer within a minute"
        except (subprocess.SubprocessError, OSError) as error:
            last = str(getattr(error, "stderr", None) or error).strip().splitlines()[-1:]
            return None, "".join(last)
    return next(iter(_cache().glob(pattern)), None), "it came without a source distribution"
