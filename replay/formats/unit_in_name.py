"""The unit that a column's name ends with, in brackets."""

from __future__ import annotations

import re
from typing import Final

from replay.channels.recorded_unit import is_unit

_SQUARE: Final = re.compile(r".*\[(?P<unit>[^\[\]]{1,20})\]\s*")
_ROUND: Final = re.compile(r".*\((?P<unit>[^()]{1,20})\)\s*")


def unit_in_name(name: str) -> str:
    """What stands in square brackets, or a known unit in round ones; "" without either."""
    square, round_ones = _SQUARE.fullmatch(name), _ROUND.fullmatch(name)
    if square:
        return square["unit"].strip()
    found = round_ones["unit"].strip() if round_ones else ""
    return found if found and is_unit(found) else ""
