"""Arrow columns as numbers and as text, whatever type they have."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from replay.formats.csv_cells import NO_VALUE
from replay.formats.csv_numbers import as_numbers

Array = NDArray[np.float64]


def is_flat(kind: Any) -> bool:
    """False for lists and structures."""
    import pyarrow as pa

    held = kind.value_type if pa.types.is_dictionary(kind) else kind
    return not (pa.types.is_nested(held) or pa.types.is_fixed_size_binary(held))


def is_stamp(kind: Any) -> bool:
    """True for dates, with or without a time."""
    import pyarrow as pa

    return bool(pa.types.is_timestamp(kind) or pa.types.is_date(kind))


def as_floats(column: Any) -> Array:
    """Numbers, NaN where there is no value; dates and times in seconds; WrongCell for a text that is no number."""
    import pyarrow as pa

    if pa.types.is_dictionary(column.type):
        column = column.dictionary_decode()
    kind = column.type
    if pa.types.is_null(kind):
        return np.full(len(column), np.nan)
    if _is_text(kind):
        import pandas as pd

        return as_numbers(pd.Series(as_texts(column), dtype="str"), decimal_comma=False)
    if pa.types.is_temporal(kind):
        return _seconds(column)
    if not pa.types.is_float64(kind):
        column = column.cast(pa.float64(), safe=False)
    return np.asarray(column.to_numpy(zero_copy_only=False), dtype=np.float64)


def as_texts(column: Any) -> NDArray[Any]:
    """Text as recorded, None where blank; each distinct value is spelled once."""
    import pyarrow as pa

    coded = column if pa.types.is_dictionary(column.type) else _coded(column)
    words = np.array([*(_spelled(value) for value in coded.dictionary.to_pylist()), None], dtype=object)
    places = coded.indices.cast(pa.int64()).fill_null(len(words) - 1).to_numpy(zero_copy_only=False)
    found: NDArray[Any] = words[places]
    return found


def _coded(column: Any) -> Any:
    import pyarrow as pa

    if pa.types.is_decimal(column.type) or pa.types.is_float16(column.type):
        column = column.cast(pa.float64(), safe=False)
    elif pa.types.is_null(column.type):
        column = column.cast(pa.string())
    return column.dictionary_encode()


def _spelled(value: Any) -> str | None:
    if isinstance(value, bytes):
        value = value.decode("utf-8", errors="replace")
    text = "" if value is None or value != value else str(value)  # noqa: PLR0124 - not a number
    return None if text.strip().casefold() in NO_VALUE else text


def _is_text(kind: Any) -> bool:
    import pyarrow as pa

    checks = (pa.types.is_string, pa.types.is_large_string, pa.types.is_binary, pa.types.is_large_binary)
    return any(check(kind) for check in (*checks, pa.types.is_string_view, pa.types.is_binary_view))


def _seconds(column: Any) -> Array:
    """Dates since 1970-01-01 UTC, times since midnight, spans as they are. [s]"""
    import pyarrow as pa

    kind = column.type
    if pa.types.is_date(kind):
        column = column.cast(pa.timestamp("ms"))
        kind = column.type
    steps = {"s": 1.0, "ms": 1e3, "us": 1e6, "ns": 1e9}[kind.unit]
    whole = column.cast(pa.int32() if pa.types.is_time32(kind) else pa.int64())
    blank = whole.is_null().to_numpy(zero_copy_only=False)
    counted = whole.fill_null(0).to_numpy(zero_copy_only=False)
    found = np.array(counted // int(steps) + (counted % int(steps)) / steps, dtype=np.float64)
    found[blank] = np.nan
    return found
