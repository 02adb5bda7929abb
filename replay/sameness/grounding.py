"""Whether offline claims about a log stand on ground: what is replayed must be what the vehicle ran."""

from __future__ import annotations

from dataclasses import dataclass
from math import isnan
from typing import Final

import numpy as np

from dualduty.signals import SIDES
from replay.sameness.sameness import Sameness, ratio
from replay.sameness.sameness_states import StateAgreement

AGREE: Final = 0.95  # of ticks and corners, of either side; the demo logs reach 99 %, another calibration's 94 to 99 % (see LAYER_AGREES)
LAYER_AGREES: Final = 0.8  # of what a layer decides: a calibration that differs in landings only agrees on 98 % of a whole drive
HARDLY: Final = 0.5  # below it a layer disagrees whichever way; above it and unsteadily, a fast law saw more samples than the log kept
LAYER_SECONDS: Final = 0.2  # s, over its corners; what decided for less is no evidence
LEAST_SECONDS: Final = 5.0  # s compared, of which duties moved
LEAST_MOVING: Final = 0.02  # share of the compared ticks; constant duties agree with anything that is constant
STEADY: Final = 0.03  # width of the middle half of the differences up to which they are about one value
LATE: Final = 0.02  # s; a larger offset is worth a word


@dataclass(frozen=True)
class LayerApart:
    """A layer whose decisions the log does not bear out: share of its ticks that agree, and how long it decided over all corners [s].

    `apart` is the middle of logged less replayed duty where they differ, `steady` whether it is always about the same. [1]
    """

    layer: str
    side: str
    share: float
    seconds: float
    apart: float
    steady: bool

    @property
    def refutes(self) -> bool:
        """Whether the log can't come from this calibration; otherwise only what this layer decides is in doubt."""
        return self.steady or self.share < HARDLY

    def __str__(self) -> str:
        return f"where {self.layer} decides {self.side} ({100 * self.share:.0f} %)"


@dataclass(frozen=True)
class Grounding:
    """The verdict on a log: `agreement` of the worse side (NaN where it can't be told), the time offset [s], and one line of text."""

    agreement: float
    side: str
    offset: float
    grounded: bool
    text: str
    layers: tuple[LayerApart, ...] = ()

    @property
    def told(self) -> bool:
        """Whether the log allows a verdict at all."""
        return not isnan(self.agreement)

    def __str__(self) -> str:
        return self.text


def judge(found: Sameness, least: float = AGREE) -> Grounding:
    """Grounded where either side agrees in `least` of its ticks and no layer that decided for a while refutes it.

    A layer that agrees in most of its ticks and lies apart now here, now there, only narrows the claim: it is named.
    """
    unknown = _unknown(found)
    offset = found.offset.seconds
    if unknown:
        return Grounding(float("nan"), "", offset, grounded=False, text=f"not grounded, can't tell: {unknown}")
    side, share = found.worst
    apart = layers_apart(found)
    grounded = share >= least and not any(one.refutes for one in apart)
    line = f"{found.candidate} agrees with {found.logged.duties} in {100 * share:.1f} % of ticks ({side}, the worse side)"
    if share < least:
        line += f"; expected {100 * least:g} %"
    elif apart:
        line += f", {'less so' if grounded else 'but not'} {' and '.join(map(str, apart))}"
    late = _late(found)
    return Grounding(share, side, offset, grounded, f"{'grounded' if grounded else 'not grounded'}: {line}{late}", tuple(apart))


def _unknown(found: Sameness) -> str:
    """Why nothing can be told, empty where something can."""
    if not found.has_duties and not found.logged.states:
        return "the log records neither duties nor states of its own controller"
    if not found.has_duties:
        return "the log records states of its own controller, but no duties"
    if found.compared_seconds < LEAST_SECONDS:
        return f"only {found.compared_seconds:.1f} s could be compared; expected {LEAST_SECONDS:g} s or more"
    if found.tally.moving.sum() < LEAST_MOVING * found.tally.compared.sum():
        return "the logged duties hardly move: what stands still agrees with anything"
    return ""


def _late(found: Sameness) -> str:
    offset = found.offset
    if not offset.stretches:
        return "; time offset not found"
    if not offset.certain:
        return f"; time offset {1e3 * offset.seconds:+.1f} ms, uncertain"
    more = ", latencies of detectors on this log are off by as much" if abs(offset.seconds) > LATE else ""
    return f"; time offset {1e3 * offset.seconds:+.1f} ms{more}"


def layers_apart(found: Sameness, least: float = LAYER_AGREES) -> list[LayerApart]:
    """Layers that decided for a while and agree in less than `least` of that, the worst first."""
    tally = found.tally
    apart = []
    for row, side in enumerate(SIDES):
        for index, layer in enumerate(found.layers):
            seconds = float(tally.layer_compared[row, index]) * found.dt
            share = ratio(tally.layer_agreeing[row, index], tally.layer_compared[row, index])
            if seconds >= LAYER_SECONDS and share < least:
                scatter = tally.layer_scatter[row, index]
                apart.append(LayerApart(layer, side, share, seconds, float(tally.layer_apart[row, index]), bool(scatter <= STEADY)))
    return sorted(apart, key=lambda one: one.seconds * (one.share - 1.0))


def explained(found: Sameness, edge: float = 0.02) -> list[str]:
    """What differs most, in sentences: layers, states, drive modes, and the worst moment; `edge` is how far an event may be off [s]."""
    lines = [_layer_words(one) for one in layers_apart(found, 0.9)][:4]
    lines += [line for state in found.states if (line := _state_words(state, edge))]
    lines += [f"state {name} was logged and is none of this strategy's" for name in found.logged.foreign]
    return [*lines, *_mode_words(found), *_worst_words(found)]


def _layer_words(one: LayerApart) -> str:
    where = f"where {one.layer} decides {one.side} ({one.seconds:.1f} s over the corners) {100 * one.share:.0f} % agree"
    if isnan(one.apart):
        return where
    way = "above" if one.apart > 0 else "below"
    told = "steadily: one of its duties may be another" if one.steady else "in the middle, not steadily: what it reads, or when it opens"
    return f"{where}; logged lies {100 * abs(one.apart):.0f} points {way}, {told}"


def _state_words(state: StateAgreement, edge: float) -> str:
    off = state.off_by_more(edge)
    if not off:
        return ""
    only = {word: sum(event.only == word for event in off) for word in ("log", "replay")}
    parts = [f"{count} in the {word} only" for word, count in only.items() if count]
    late = [event.off for event in off if not event.only]
    if late:
        parts.append(f"{len(late)} with an edge off by more than {1e3 * edge:.0f} ms ({1e3 * max(late, key=abs):+.0f} ms at worst)")
    share = f"{100 * state.share_active:.0f} % of its active time is in both"
    return f"state {state.state}: {share}; of its events, {len(state.events)} in all, {', '.join(parts)}"


def _mode_words(found: Sameness) -> list[str]:
    compared, agreeing = (counts.sum(axis=(0, 1)) for counts in (found.tally.compared, found.tally.agreeing))
    driven = [(name, ratio(a, c)) for name, a, c in zip(found.modes, agreeing, compared, strict=True) if c]
    if len(driven) < 2 or max(share for _, share in driven) - min(share for _, share in driven) < 0.01:  # noqa: PLR2004 - two modes
        return []
    return ["by drive mode: " + ", ".join(f"{name} {100 * share:.1f} %" for name, share in driven)]


def _worst_words(found: Sameness) -> list[str]:
    windows = found.tally.windows
    if not windows.size or not np.isfinite(windows).any():
        return []
    mean = np.nanmean(np.where(np.isfinite(windows), windows, 0.0), axis=0)
    worst = int(np.argmax(mean))
    if mean[worst] <= found.rules.tolerance:
        return []
    start = worst * found.tally.window
    return [f"most apart from {start:.0f} s to {start + found.tally.window:.0f} s: {100 * mean[worst]:.1f} points of duty on average"]
