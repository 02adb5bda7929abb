"""Since when rows of values have stood as they do, while chunks go by."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray


class Since:
    """For named blocks of rows: their last values, and the tick since which each row has had it."""

    def __init__(self) -> None:
        self.ticks: dict[str, NDArray[np.int64]] = {}
        self._last: dict[str, NDArray[Any]] = {}

    def take(self, name: str, values: NDArray[Any], start: int) -> None:
        """Go on with `values` (row, time), whose first column is tick `start`."""
        if values.shape[1] == 0:
            return
        ticks = self.ticks.get(name)
        ticks = np.full(len(values), start, np.int64) if ticks is None else np.where(values[:, 0] != self._last[name], start, ticks)
        changed = np.zeros(values.shape, bool)
        changed[:, 1:] = values[:, 1:] != values[:, :-1]
        last = values.shape[1] - 1 - np.argmax(changed[:, ::-1], axis=1)  # column of the last change, where there is one
        self.ticks[name] = np.where(changed.any(axis=1), start + last, ticks)
        self._last[name] = values[:, -1].copy()
