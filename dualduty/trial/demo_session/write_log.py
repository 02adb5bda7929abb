"""A frame written as a logger's file: text, Parquet, or a measurement file with groups at rates of their own."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.errors import BadInput
from dualduty.files import whole_file, write_text
from dualduty.trial.demo_session.columns import BUS_EVERY, BY_NAME, LoggedColumn
from dualduty.trial.demo_session.frame import Frame

Array = NDArray[np.float64]

TIME: Final = "time_s"
NOTE: Final = "invented demo log; car marram 2"
EVERY: Final = {"chassis": 1, "inertial": 1, "controller": 2, "bus": BUS_EVERY}  # samples of the logger per sample of a group
BUS_DRIFT: Final = 40e-6  # by how much the clock of the bus runs fast, where it has one of its own
_WRITTEN: Final = datetime(2000, 1, 1, tzinfo=UTC)  # invented: a file says the same whenever it is made


def texts(column: LoggedColumn, values: Array) -> list[str]:
    """A column as text: its digits, nothing where there is no value."""
    said = f"%.{column.digits}f"
    return ["" if value != value else said % value for value in values.tolist()]  # noqa: PLR0124 - only what is not a number differs from itself


def csv_text(stamps: Array, columns: Mapping[str, Array], note: str) -> str:
    """A log as text, a line each sample, a comment above."""
    cells = [[f"{stamp:.4f}" for stamp in stamps.tolist()], *(texts(BY_NAME[name], values) for name, values in columns.items())]
    lines = [f"# {note}", ",".join([TIME, *columns]), *map(",".join, zip(*cells, strict=True))]
    return "\n".join(lines) + "\n"


def write_csv(path: Path, frame: Frame, note: str) -> None:
    """As text."""
    columns = {name: _recorded(frame, name)[frame.kept] for name in frame.columns}
    write_text(path, csv_text(frame.stamps[frame.kept], columns, note))


def write_parquet(path: Path, frame: Frame, note: str) -> None:
    """As Parquet: the same numbers, missing ones as nulls."""
    pyarrow = _library("pyarrow", "parquet")
    parquet = _library("pyarrow.parquet", "parquet")
    table = pyarrow.table(
        {
            TIME: np.round(frame.stamps[frame.kept], 4),
            **{name: pyarrow.array(_recorded(frame, name)[frame.kept], from_pandas=True) for name in frame.columns},
        }
    )
    with whole_file(path) as draft:
        parquet.write_table(table.replace_schema_metadata({"note": note}), draft)


def write_mdf(path: Path, frame: Frame, note: str) -> None:
    """As a measurement file: a group for each box, at its own rate; the clock of the bus runs fast by `BUS_DRIFT`."""
    asammdf = _library("asammdf", "mdf")
    mdf = asammdf.MDF(version="4.10")
    mdf.start_time = _WRITTEN
    mdf.header.comment = note
    mdf.file_history.append(_history())
    for box, every in EVERY.items():
        here = frame.kept & (np.arange(len(frame.stamps)) % every == 0)
        stamps = np.round(frame.stamps[here] * (1.0 + (BUS_DRIFT if box == "bus" else 0.0)), 6)
        signals = [
            asammdf.Signal(samples=_recorded(frame, name)[here], timestamps=stamps, name=name, unit=_unit(name))
            for name in frame.columns
            if BY_NAME[name].box == box
        ]
        mdf.append(signals, acq_name=box, comment=box, common_timebase=True)
    with whole_file(path.with_suffix(".mf4")) as draft:
        draft.unlink()
        mdf.save(draft, overwrite=True, add_history_block=False)
    mdf.close()


def _history() -> Any:
    """When the file was made, which its format asks for: always the same moment, so that the same seed gives the same bits."""
    made = _library("asammdf.blocks.v4_blocks", "mdf").FileHistory()
    tool = "<tool_id>dualduty</tool_id><tool_vendor>none</tool_vendor><tool_version>1</tool_version>"
    made.comment = f"<FHcomment><TX>invented</TX>{tool}</FHcomment>"
    made.abs_time, made.tz_offset, made.daylight_save_time = int(_WRITTEN.timestamp() * 1e9), 0, 0
    return made


WRITERS: Final[Mapping[str, tuple[str, Callable[[Path, Frame, str], None]]]] = {  # format: suffix, what writes it
    "csv": (".csv", write_csv), "parquet": (".parquet", write_parquet), "mdf": (".mf4", write_mdf),
}  # fmt: skip


def check_format(form: str) -> None:
    """BadInput, before anything is driven, where the library of a format isn't there."""
    if form == "parquet":
        _library("pyarrow", form)
    elif form == "mdf":
        _library("asammdf", form)


def _recorded(frame: Frame, name: str) -> Array:
    """Values with the digits that are recorded."""
    return np.asarray(np.round(frame.columns[name], BY_NAME[name].digits))


def _unit(name: str) -> str:
    """Unit of a column as its name says it."""
    for ending, unit in (("_km_h", "km/h"), ("_deg_s", "deg/s"), ("_mm", "mm"), ("_pct", "%"), ("_deg", "deg"), ("_g", "g")):
        if name.endswith(ending):
            return unit
    return ""


def _library(name: str, extra: str) -> Any:
    import importlib

    try:
        return importlib.import_module(name)
    except ImportError:
        raise BadInput("--format", f"{extra} needs a further package; install it with: pip install dualduty[{extra}]") from None
