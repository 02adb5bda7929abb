"""One moment of one side of one damper: who asked for what, who decided, what lay beneath, and what opened it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from dualduty.attribution.data import CORNERS, Attribution, row_of
from dualduty.attribution.suspicion import Loss, losses, suspicions
from dualduty.trace import FLAG_LABELS
from strategies.stack import DECIDES_AT_WEIGHT, DECIDES_BY_DUTY

OPEN: Final = 0.5  # a state is 0 or 1


@dataclass(frozen=True)
class Ask:
    """What one layer did: how far it was open, the duty it asked for (None: it leaves the side alone), the duty after it. [1]"""

    layer: str
    act: str
    share: float
    asked: float | None
    after: float


@dataclass(frozen=True)
class Lasting:
    """A state, and for how long it has been as it is [s]; `whole` where it has been so since the recording began."""

    name: str
    seconds: float
    whole: bool = False


@dataclass(frozen=True)
class Moment:
    """One side of one corner at one time.

    `decided` is the layer that decided, and for how long it has; `beneath` the layer that decided beneath it, with the
    duty that stood there. `opened` are the states that hold it open, `ended` the one that closed last where it fades
    out. `losses` are lost channels that close layers; where the base is among those, a fallback stands in. `trims` are
    `add` layers with the duty each added. `supervisor` names flags, `suspicious` what the layer reads and hardly can
    trust. Duties are 0..1, `time` in seconds.
    """

    time: float
    corner: int
    side: str
    mode: str
    duty: float
    stack: float
    decided: Lasting
    beneath: tuple[str, float] | None
    asks: tuple[Ask, ...]
    opened: tuple[Lasting, ...]
    ended: Lasting | None
    losses: tuple[Loss, ...]
    trims: tuple[tuple[str, float], ...]
    supervisor: tuple[str, ...]
    suspicious: tuple[str, ...]

    @property
    def fallback(self) -> bool:
        """Whether a fallback stands in for the base and nothing decided above it."""
        return self.beneath is None and any(self.decided.name in loss.closes for loss in self.losses)

    @property
    def ask(self) -> Ask:
        """What the layer that decided did."""
        return next(ask for ask in self.asks if ask.layer == self.decided.name)


def moment(told: Attribution, seconds: float, corner: int, side: str) -> Moment:
    """What the window says of the tick nearest to `seconds`."""
    row, column = row_of(corner, side), told.column(seconds)
    decider = int(told.decider[row, column])
    under = _decider_beneath(told, decider, row, column)
    asks = tuple(_ask(told, index, row, column) for index in range(len(told.layers)))
    involved = list(dict.fromkeys([decider, *([] if under is None else [under]), 0]))  # what a base reads wrongly, all above it inherit
    return Moment(
        time=(told.start + column) * told.dt, corner=corner, side=side, mode=told.modes[int(told.mode[column])],
        duty=float(told.duty[row, column]), stack=float(told.stack[row, column]),
        decided=_lasting(told, told.layers[decider].name, "decider", row, column),
        beneath=None if under is None else (told.layers[under].name, float(told.after[decider - 1, row, column])),
        asks=asks, opened=_opened(told, decider, corner, column), ended=_ended(told, decider, corner, column),
        losses=losses(told, corner, column), trims=_trims(told, row, column),
        supervisor=tuple(label for flag, label in FLAG_LABELS.items() if int(told.flags[row, column]) & flag and label != "trim"),
        suspicious=suspicions(told, involved, corner, column),
    )  # fmt: skip


def _ask(told: Attribution, index: int, row: int, column: int) -> Ask:
    asked = float(told.asked[index, row, column])
    layer = told.layers[index]
    share, after = (float(array[index, row, column]) for array in (told.share, told.after))
    return Ask(layer.name, layer.act, share, None if np.isnan(asked) else asked, after)


def _decider_beneath(told: Attribution, decider: int, row: int, column: int) -> int | None:
    """The layer that would have decided without `decider` and those above it; None beneath the base."""
    found = None
    for index in range(decider):
        after = told.after[index, row, column]
        before = told.after[index - 1, row, column] if index else after
        act, silent = told.layers[index].act, np.isnan(told.asked[index, row, column])
        by_share = act == "set" and told.share[index, row, column] >= DECIDES_AT_WEIGHT
        if index == 0 or (not silent and (by_share or (act in ("raise", "cap") and abs(after - before) > DECIDES_BY_DUTY))):
            found = index
    return found


def _lasting(told: Attribution, said: str, name: str, row: int, column: int) -> Lasting:
    since = told.since(name, row, column)
    return Lasting(said, (told.start + column - since) * told.dt, whole=since == 0)


def _state_row(told: Attribution, name: str, corner: int) -> int:
    return corner if len(told.states[name]) == CORNERS else 0


def _opened(told: Attribution, decider: int, corner: int, column: int) -> tuple[Lasting, ...]:
    """States of the layer's `when` that are active here, the one that came last at the end."""
    rows = [(name, _state_row(told, name, corner)) for name in told.layers[decider].when if name in told.states]
    found = [_lasting(told, name, f"state {name}", row, column) for name, row in rows if told.states[name][row, column] > OPEN]
    return tuple(sorted(found, key=lambda state: -state.seconds))


def _ended(told: Attribution, decider: int, corner: int, column: int) -> Lasting | None:
    """The state of `when` that ended last, where none holds the layer open any more."""
    names = [name for name in told.layers[decider].when if name in told.states]
    if not names or _opened(told, decider, corner, column):
        return None
    rows = [(name, _state_row(told, name, corner)) for name in names]
    return min((_lasting(told, name, f"state {name}", row, column) for name, row in rows), key=lambda state: state.seconds)


def _trims(told: Attribution, row: int, column: int) -> tuple[tuple[str, float], ...]:
    """What `add` layers put on top or took away."""
    found = []
    for index, layer in enumerate(told.layers):
        moved = float(told.after[index, row, column] - (told.after[index - 1, row, column] if index else 0.0))
        if layer.act == "add" and abs(moved) > DECIDES_BY_DUTY:
            found.append((layer.name, moved))
    return tuple(found)
