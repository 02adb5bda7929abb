"""Which layer asked for what, which decided, and since when: for any moment, corner and side, as data, words and picture."""

from __future__ import annotations

from dualduty.attribution.data import Attribution, LayerFacts, row_of
from dualduty.attribution.explain import explain
from dualduty.attribution.moment import Moment, moment

__all__ = ["Attribution", "LayerFacts", "Moment", "explain", "moment", "row_of"]
