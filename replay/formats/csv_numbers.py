"""Columns of a text file as numbers: what the quick reader made of them, and cell by cell where it couldn't."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import NDArray

from replay.formats.csv_cells import NO_VALUE, has_thousands

if TYPE_CHECKING:
    import pandas as pd

Array = NDArray[np.float64]
_HALF_DAY: Final = 43_200.0  # s; a clock that falls back by more has passed midnight
_DAY: Final = 86_400.0  # s


class WrongCell(Exception):  # noqa: N818 - told with file and line by who knows them
    """Index of a sample that holds no number, what was expected and what came."""

    def __init__(self, index: int, expected: str, came: str) -> None:
        super().__init__(index, expected, came)
        self.index = index
        self.expected = expected
        self.came = came


def as_numbers(column: pd.Series[Any], decimal_comma: bool | None) -> Array:
    """Numbers of one column, NaN where blank; WrongCell at the first that is none."""
    if not len(column) or column.dtype.kind in "iuf":
        return np.ascontiguousarray(column.to_numpy(dtype=np.float64))
    if column.dtype.kind == "b":
        raise WrongCell(0, "a number", str(column.iloc[0]))
    import pandas as pd

    text = column.astype("str").str.strip()
    blank = (column.isna() | text.str.casefold().isin(NO_VALUE)).to_numpy(dtype=bool)
    plain = text
    if decimal_comma is not False:
        pointed = text.str.contains(".", regex=False).to_numpy(dtype=bool) if decimal_comma else np.zeros(len(text), dtype=bool)
        plain = text.str.replace(",", ".", n=1, regex=False).mask(pointed, "not with this decimal sign")
    found = np.array(pd.to_numeric(plain.mask(blank, "nan"), errors="coerce"), dtype=np.float64)
    wrong = np.isnan(found) & ~blank
    if wrong.any():
        index = int(np.argmax(wrong))
        came = str(column.iloc[index])
        sign = {True: "comma", False: "point", None: "point or comma"}[decimal_comma]
        hint = f" without separators between thousands, decimal {sign}" if has_thousands(came) or (decimal_comma and "." in came) else ""
        raise WrongCell(index, f"a number{hint}", came)
    return found


class StampReader:
    """Dates or clock times of one column as seconds; a clock goes on over midnight."""

    def __init__(self, kind: str) -> None:
        self._kind = kind
        self._last = np.nan
        self._days = 0

    def seconds(self, column: pd.Series[Any]) -> Array:
        """Seconds since 1970-01-01 UTC for dates, since the first midnight for clock times; NaN where blank. [s]"""
        text = column.astype("str").str.strip()
        blank = (column.isna() | text.str.casefold().isin(NO_VALUE)).to_numpy(dtype=bool)
        found = _dates(text) if self._kind == "date" else _clocks(text)
        found[blank] = np.nan
        wrong = np.isnan(found) & ~blank
        if wrong.any():
            example = "2031-05-01T12:03:04.250" if self._kind == "date" else "12:03:04.250"
            index = int(np.argmax(wrong))
            what = {"date": "a date and time", "clock": "a clock time"}[self._kind]
            raise WrongCell(index, f"{what} like {example}", str(column.iloc[index]))
        return self._over_midnight(found) if self._kind == "clock" else found

    def _over_midnight(self, found: Array) -> Array:
        good = ~np.isnan(found)
        if not good.any():
            return found
        steps = np.diff(found[good], prepend=found[good][0] if np.isnan(self._last) else self._last)
        days = self._days + np.cumsum(steps < -_HALF_DAY) - np.cumsum(steps > _HALF_DAY)
        self._last, self._days = float(found[good][-1]), int(days[-1])
        found[good] += days * _DAY
        return found


def _dates(text: pd.Series[Any]) -> Array:
    import pandas as pd

    plain = text.str.replace("/", "-", regex=False).str.replace(",", ".", regex=False).str.removesuffix("UTC").str.strip()
    shaped = plain.str.match(r"\d{4}-\d{1,2}-\d{1,2}").to_numpy(dtype=bool)
    stamps = pd.to_datetime(plain.where(shaped, None), format="ISO8601", utc=True, errors="coerce")
    return _seconds(stamps.dt.tz_localize(None).to_numpy(dtype="datetime64[ns]"))


def _clocks(text: pd.Series[Any]) -> Array:
    import pandas as pd

    plain = text.str.replace(",", ".", regex=False)
    shaped = plain.str.fullmatch(r"(\d{1,3}:)?\d{1,2}:\d{1,2}(\.\d+)?")
    plain = plain.mask(plain.str.count(":") == 1, "00:" + plain) if bool((plain.str.count(":") == 1).any()) else plain
    return _seconds(pd.to_timedelta(plain.where(shaped, None), errors="coerce").to_numpy(dtype="timedelta64[ns]"))


def _seconds(stamps: NDArray[Any]) -> Array:
    whole = stamps.astype(np.int64)
    found = whole // 1_000_000_000 + (whole % 1_000_000_000) * 1e-9
    found[np.isnat(stamps)] = np.nan
    return np.asarray(found, dtype=np.float64)
