"""The bench's clock, and how long work says how far it is."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

DT: Final = 0.002  # s, 500 Hz controller
Progress = Callable[[float], None]  # told the share done, 0..1


def part_of(progress: Progress, part: tuple[int, int], whole: int) -> Progress:
    """Progress of a part (where it starts, how long it is) of the whole."""
    return lambda share: progress((part[0] + share * part[1]) / whole)
