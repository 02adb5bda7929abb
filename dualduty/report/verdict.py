"""How each verdict is marked, in pictures, on the page and on a terminal; imports nothing heavy."""

from __future__ import annotations

from typing import Final

_INK: Final = "#1d232b"  # as in look.py, which needs the drawing library
_SOFT_INK: Final = "#5a636e"

# verdict -> symbol, words, fill, text colour; in grey: worse darkest, better mid, the rest near white
VERDICTS: Final[dict[str, tuple[str, str, str, str]]] = {
    "better": ("✓", "better", "#8fc3dc", _INK),
    "worse": ("✗", "worse", "#a33a17", "#ffffff"),
    "changed": ("↕", "changed, neither good nor bad", "#d9d0e8", _INK),
    "same": ("=", "same within the noise band", "#f3f4f6", _SOFT_INK),
    "identical": ("·", "identical", "#ffffff", _SOFT_INK),
    "can't tell": ("?", "can't tell yet", "#f6e7b4", _INK),
    "not comparable": ("\N{EN DASH}", "not comparable", "#ffffff", _SOFT_INK),
}
