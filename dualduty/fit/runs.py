"""A folder of logged runs at declared duties: `runs.toml` names each log, its section and its duties.

vehicle = "marram_2"
channel_map = "marram_logger.toml"                  # beside it, or among the shipped ones

[[run]]
name = "iso_road_20_20"                             # the log is iso_road_20_20.csv unless `log` names it
section = "iso_road"
compression_duty_pct = 20                           # as commanded throughout; both left out with `stepped = true`
rebound_duty_pct = 20
unseen = false                                      # true: kept from the fit, for the prediction
"""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.errors import BadInput
from dualduty.shipped import shipped_calibrations
from dualduty.toml_file import read_toml
from replay.channels.channel_map_file import read_channel_map
from replay.open_log import open_log
from replay.raw_signals import RawSignal, raw_signals

Array = NDArray[np.float64]

MANIFEST: Final = "runs.toml"
NEEDED: Final = (
    "shaft_travel", "specific_force_x", "specific_force_y", "specific_force_z", "roll_rate", "pitch_rate",
    "applied_compression", "applied_rebound",
)  # fmt: skip
RATE: Final = 500.0  # Hz, to which every log is brought
LEAST_RATE: Final = 150.0  # Hz; slower logs miss wheel hop's shape, and with it shaft speed
LONGEST_GAP: Final = 0.03  # s bridged by a straight line; half a period of wheel hop
WAVER: Final = 0.015  # of duty; a log's resolution
_KEYS: Final = ("name", "log", "section", "compression_duty_pct", "rebound_duty_pct", "stepped", "unseen")


@dataclass(frozen=True, eq=False)
class Run:
    """One run on an even grid of `RATE`: signals (corner, time) by name [SI]; `duty` its declared duties, NaN where stepped."""

    name: str
    section: str
    duty: tuple[float, float]
    stepped: bool
    unseen: bool
    signals: dict[str, Array]

    @property
    def label(self) -> str:
        """Compression/rebound in %, or `stepped`."""
        return "stepped" if self.stepped else f"{100 * self.duty[0]:.0f}/{100 * self.duty[1]:.0f}"


def read_runs(folder: Path, vehicle: str, unseen: Sequence[str] = ()) -> list[Run]:
    """All runs of a folder; `unseen` names those kept from the fit, instead of what the manifest says."""
    path = folder / MANIFEST
    document = read_toml(path)
    if document.get("vehicle") != vehicle:
        raise BadInput(f"{path}: vehicle", f"expected runs of {vehicle!r}, came {document.get('vehicle')!r}")
    entries = document.get("run")
    if not isinstance(entries, list) or not entries:
        raise BadInput(f"{path}: run", "expected at least one [[run]]")
    channel_map = _channel_map(path, document)
    runs = [_read(folder, entry, channel_map, f"{path}: run[{index}]") for index, entry in enumerate(entries)]
    names = [run.name for run in runs]
    for name in unseen:
        if name not in names:
            raise BadInput(f"--unseen {name}", f"no such run; expected one of {', '.join(names)}")
    return [replace(run, unseen=run.name in unseen) for run in runs] if unseen else runs


def _channel_map(path: Path, document: dict[str, Any]) -> Any:
    said = document.get("channel_map")
    if not isinstance(said, str):
        raise BadInput(f"{path}: channel_map", f"expected the name of a file, came {said!r}")
    beside, shipped = path.parent / said, shipped_calibrations() / "channel_maps" / said
    return read_channel_map(beside if beside.is_file() else shipped)


def _read(folder: Path, entry: dict[str, Any], channel_map: Any, place: str) -> Run:
    for key in entry:
        if key not in _KEYS:
            near = difflib.get_close_matches(key, _KEYS, n=1)
            raise BadInput(f"{place}.{key}", f"unknown; did you mean {near[0]!r}?" if near else f"unknown; expected {', '.join(_KEYS)}")
    for key in ("name", "section"):
        if not isinstance(entry.get(key), str):
            raise BadInput(f"{place}.{key}", f"expected a text, came {entry.get(key)!r}")
    stepped = entry.get("stepped", False) is True
    duty = (np.nan, np.nan) if stepped else (_duty(entry, "compression_duty_pct", place), _duty(entry, "rebound_duty_pct", place))
    log = folder / str(entry.get("log", f"{entry['name']}.csv"))
    signals = _signals(log, channel_map)
    run = Run(entry["name"], entry["section"], duty, stepped, entry.get("unseen", False) is True, signals)
    _check_duty(run, log)
    return run


def _duty(entry: dict[str, Any], key: str, place: str) -> float:
    said = entry.get(key)
    if isinstance(said, bool) or not isinstance(said, int | float) or not 0 <= said <= 100:  # noqa: PLR2004 - %
        raise BadInput(f"{place}.{key}", f"expected a duty of 0 to 100 %, came {said!r}; or stepped = true")
    return 0.01 * said


def _check_duty(run: Run, log: Path) -> None:
    if run.stepped:
        return
    for side, declared in zip(("compression", "rebound"), run.duty, strict=True):
        applied = run.signals[f"applied_{side}"]
        off = np.abs(applied - declared).max(axis=0)
        if off.max() > WAVER:
            at = int(np.argmax(off > WAVER))
            corner = int(np.argmax(np.abs(applied[:, at] - declared)))
            came = f"came {100 * applied[corner, at]:.1f} % at {at / RATE:.3f} s"
            raise BadInput(log, f"{side} duty is declared constant at {100 * declared:.0f} %, {came}")


def _signals(log: Path, channel_map: Any) -> dict[str, Array]:
    if not log.is_file():
        raise BadInput(log, "expected a log, found no such file")
    opened = open_log(log, channel_map)
    for name in NEEDED:
        if not opened.has(name):
            raise BadInput(log, f"has no {name}; the fit needs {', '.join(NEEDED)}")
    raw = raw_signals(opened, NEEDED, NEEDED)
    ends = min(float(one.time[-1]) for each in raw.values() for one in each)
    samples = min(len(one.time) for each in raw.values() for one in each)
    if samples < 2 or (samples - 1) / ends < LEAST_RATE:  # noqa: PLR2004 - a rate needs two samples
        raise BadInput(log, f"has {samples} samples; expected {LEAST_RATE:.0f} a second or more")
    grid = np.arange(0.0, ends, 1.0 / RATE)
    return {name: _even(each, grid, f"{log}: {name}") for name, each in raw.items()}


def _even(rows: list[RawSignal], grid: Array, place: str) -> Array:
    """Rows on an even grid, short gaps bridged; duties hold no matter, since they step at a sample."""
    out = np.empty((len(rows), len(grid)))
    for index, row in enumerate(rows):
        good = np.isfinite(row.values)
        time = row.time[good]
        if not good.any() or max(np.diff(time).max(initial=0.0), time[0], grid[-1] - time[-1]) > LONGEST_GAP:
            raise BadInput(place, f"has a gap of more than {1e3 * LONGEST_GAP:.0f} ms; cut the run there")
        out[index] = np.interp(grid, time, row.values[good])
    return out
