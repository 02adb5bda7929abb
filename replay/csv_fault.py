"""Finds the cell that made a CSV log unreadable; slow, and only run when it is."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pandas as pd

    from replay.csv_log import CsvLog


def first_text(log: CsvLog, numeric: Sequence[int]) -> tuple[int, int, str] | None:
    """Line, column and content of the first cell in the `numeric` columns that is no number; None when there is none."""
    import pandas as pd

    try:
        with pd.read_csv(log.path, **log.options(as_text=True)) as frames:
            found = next((hit for frame in frames if (hit := _first_of(frame, numeric, log)) is not None), None)
    except (ValueError, IndexError):
        return None
    return None if found is None else (log.head.lines_above + 1 + found[0], found[1], found[2])


def _first_of(frame: pd.DataFrame, numeric: Sequence[int], log: CsvLog) -> tuple[int, int, str] | None:
    return min((hit for column in numeric if (hit := _first_in(frame[column], log)) is not None), default=None)


def _first_in(column: pd.Series[Any], log: CsvLog) -> tuple[int, int, str] | None:
    import pandas as pd

    text = column.str.replace(",", ".", regex=False) if log.channel_map.decimal_comma else column
    wrong = column[pd.to_numeric(text, errors="coerce").isna() & column.notna()]
    wrong = wrong[~wrong.str.strip(" ").str.casefold().isin(["nan", ""])]
    if not len(wrong):
        return None
    return int(wrong.index[0]), int(str(column.name)), str(wrong.iloc[0])
