"""Made-up Parquet and MDF files for the tests of their readers; nothing here was measured."""

from __future__ import annotations

import warnings
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq


def write_parquet(path: Path, samples: int = 1000, row_group: int = 300) -> Path:
    """Time, two travels and a mode, with units, in several row groups."""
    time = np.arange(samples) * 0.005
    fields = [
        pa.field("time", pa.float64(), metadata={"unit": "s"}), pa.field("travel", pa.float32(), metadata={"units": "mm"}),
        pa.field("acc [g]", pa.int16()), pa.field("mode", pa.dictionary(pa.int8(), pa.string())),
    ]  # fmt: skip
    modes = pa.array(np.where(time < 2.0, "patrol", "dash")).dictionary_encode().cast(pa.dictionary(pa.int8(), pa.string()))
    columns = [pa.array(time), pa.array((100 * np.sin(time)).astype(np.float32)), pa.array(np.arange(samples) % 7, pa.int16()), modes]
    pq.write_table(pa.table(columns, schema=pa.schema(fields)), path, row_group_size=row_group)
    return path


def mdf_signal(values: Any, time: Any, name: str, **options: Any) -> Any:
    """A channel to be written."""
    from asammdf import Signal

    return Signal(np.asarray(values), np.asarray(time, dtype=np.float64), name=name, **options)


def save_mdf(path: Path, groups: list[tuple[str, list[Any]]], *, version: str = "4.10", compression: Any = 0) -> Path:
    """An MDF file of groups of channels that share their stamps."""
    from asammdf import MDF

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        with MDF(version=version) as file:
            for name, signals in groups:
                file.append(signals, acq_name=name, common_timebase=True)
            return Path(file.save(path, overwrite=True, compression=compression)).replace(path)


def write_mdf(path: Path, samples: int = 400, compression: int = 0, version: str = "4.10") -> Path:
    """A fast group, and a slow one with another clock."""
    fast, slow = np.arange(samples) * 0.005 + 3.0, np.arange(samples // 10) * 0.05 + 3.001
    travels = [mdf_signal(np.sin(fast + k) * 100, fast, f"travel {k}", unit="mm") for k in range(4)]
    bus = [mdf_signal(np.arange(len(slow), dtype=np.uint8) % 3, slow, "mode"), mdf_signal(slow * 2, slow, "speed", unit="km/h")]
    return save_mdf(path, [("fast", travels), ("bus", bus)], version=version, compression=compression)
