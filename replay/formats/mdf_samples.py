"""Samples of one MDF channel as numbers and as text: conversion applied, what the file marks as invalid left blank.

A channel whose conversion turns numbers into words is read as words where text is asked for, and as the number that was recorded where
a number is.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from replay.formats.csv_cells import NO_VALUE
from replay.formats.csv_numbers import as_numbers

Array = NDArray[np.float64]
_NUMBERS: Final = "biuf"
_TEXTS: Final = "SUO"


@dataclass(frozen=True)
class Samples:
    """What was recorded, which of it is invalid (None: none), and the library's conversion of the channel (None: none)."""

    recorded: NDArray[Any]
    invalid: NDArray[np.bool_] | None
    conversion: Any


def as_floats(samples: Samples) -> Array:
    """Numbers, NaN where invalid; WrongCell for a text that is no number."""
    converted = samples.recorded
    if samples.conversion is not None:
        converted = samples.conversion.convert(samples.recorded, ignore_value2text_conversions=True)
    if converted.dtype.kind not in _NUMBERS and samples.recorded.dtype.kind in _NUMBERS:
        converted = samples.recorded
    if converted.ndim != 1:
        raise ValueError(f"expected one value a sample, came {converted.shape[1:]}")
    found = _from_text(converted, samples.invalid) if converted.dtype.kind in _TEXTS else converted.astype(np.float64)
    if samples.invalid is not None:
        found[samples.invalid] = np.nan
    return found


def as_texts(samples: Samples) -> NDArray[Any]:
    """Words, None where blank or invalid; a number without a word is spelled as it is. Each distinct value is converted once."""
    distinct, places = np.unique(samples.recorded, return_inverse=True)
    converted = distinct
    if samples.conversion is not None and len(distinct):
        converted = np.asarray(samples.conversion.convert(distinct))
    words = np.array(
        [_spelled(word) or _number(value) for word, value in zip(converted.tolist(), distinct.tolist(), strict=True)], dtype=object
    )
    found: NDArray[Any] = words[places.ravel()] if len(words) else np.empty(0, dtype=object)
    if samples.invalid is not None:
        found[samples.invalid] = None
    return found


def _from_text(words: NDArray[Any], invalid: NDArray[np.bool_] | None) -> Array:
    import pandas as pd

    spelled = np.array([_spelled(word) for word in words.tolist()], dtype=object)
    if invalid is not None:
        spelled[invalid] = None
    return as_numbers(pd.Series(spelled, dtype="str"), decimal_comma=False)


def _number(value: Any) -> str | None:
    return None if isinstance(value, (bytes, str)) else _spelled(value)


def _spelled(value: Any) -> str | None:
    if isinstance(value, bytes):
        try:
            value = value.decode("utf-8")
        except UnicodeDecodeError:
            value = value.decode("latin-1")
    text = str(value).strip("\0 \r\n\t")
    return None if text.casefold() in NO_VALUE else text
