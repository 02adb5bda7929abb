"""The bench's clock, and how long work says how far it is."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

DT: Final = 0.002  # s, 500 Hz controller
Progress = Callable[[float], None]  # told the share done, 0..1
